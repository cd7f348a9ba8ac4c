//! JSON Pointers (RFC 6901), as far as they are made and taken apart here.

/// Writes a name as a token of a pointer.
pub(crate) fn escape(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}

/// Reads a token of a pointer as a name.
///
/// # Source
/// RFC 6901 section 4: `~1` is undone before `~0`.
fn unescape(token: &str) -> String {
    token.replace("~1", "/").replace("~0", "~")
}

/// Tells whether text is a JSON Pointer (RFC 6901 section 3).
pub(crate) fn is_pointer(text: &str) -> bool {
    (text.is_empty() || text.starts_with('/'))
        && text
            .split('~')
            .skip(1)
            .all(|rest| rest.starts_with(['0', '1']))
}

/// Gives the pointer to a member of what is at a pointer.
pub(crate) fn join(pointer: &str, name: &str) -> String {
    format!("{pointer}/{}", escape(name))
}

/// Gives the pointer to what has the place, and the last name; `None` for the whole body.
pub(crate) fn split(pointer: &str) -> Option<(&str, String)> {
    let (parent, token) = pointer.rsplit_once('/')?;
    Some((parent, unescape(token)))
}

/// Writes a pointer in the one way that every pointer to that place has: a lone `~`, which the
/// look-up takes as itself, becomes `~0`.
pub(crate) fn canonical(pointer: &str) -> String {
    pointer
        .split('/')
        .map(|token| escape(&unescape(token)))
        .collect::<Vec<_>>()
        .join("/")
}

/// Gives the longest pointer that both begin with.
pub(crate) fn common<'a>(one: &'a str, other: &str) -> &'a str {
    let mut end = 0;
    let tokens = one.split('/').zip(other.split('/'));
    for (index, (token, same)) in tokens.enumerate() {
        if token != same {
            break;
        }
        end += token.len() + usize::from(index > 0);
    }
    &one[..end]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_comes_back_from_its_pointer() {
        for name in ["", "a", "a/b", "m~n", "~1", "/"] {
            let pointer = join("/x", name);
            assert_eq!(split(&pointer), Some(("/x", name.to_owned())), "{pointer}");
            assert_eq!(canonical(&pointer), pointer);
        }
        assert_eq!(split(""), None);
        assert_eq!(canonical("/a~b/c"), "/a~0b/c");
    }

    #[test]
    fn what_two_places_have_in_common_ends_at_a_token() {
        for (one, other, both) in [
            ("", "", ""),
            ("/a/b", "/a/c", "/a"),
            ("/ab", "/a", ""),
            ("/a/b", "/a/b/c", "/a/b"),
            ("/a/b/c", "/a/b", "/a/b"),
        ] {
            assert_eq!(common(one, other), both, "{one} {other}");
        }
    }
}
