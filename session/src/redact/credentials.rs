//! Fields and pairs that carry credentials.

use super::secrets::Secrets;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

/// Replaces what is secret in the value of a field that carries credentials.
pub(super) fn of_field(name: &str, value: &str, secrets: &mut Secrets) -> String {
    let is = |known: &str| name.eq_ignore_ascii_case(known);
    if is("cookie") || is("set-cookie") {
        return cookies(value, is("set-cookie"), secrets);
    }
    if !(is("authorization") || is("proxy-authorization")) {
        return whole(value, secrets);
    }
    // RFC 9110 section 11.4: a scheme, then a token or parameters.
    let Some((scheme, rest)) = value.split_once(' ') else {
        return whole(value, secrets);
    };
    if scheme.eq_ignore_ascii_case("basic")
        && let Ok(pair) = STANDARD.decode(rest.trim())
        && let Ok(pair) = String::from_utf8(pair)
    {
        // RFC 7617: the password may stand elsewhere by itself.
        secrets.stand_in(&pair);
        if let Some((_, password)) = pair.split_once(':') {
            secrets.stand_in(password);
        }
    }
    // A token may end in `=`, and is no list of parameters for that.
    let is_list = rest.trim_end_matches('=').contains('=');
    let replaced = match is_list {
        true => parameters(rest, secrets),
        false => whole(rest, secrets),
    };
    format!("{scheme} {replaced}")
}

/// Replaces a value, but for spaces around it.
pub(super) fn whole(value: &str, secrets: &mut Secrets) -> String {
    let trimmed = value.trim();
    match trimmed.is_empty() {
        true => value.to_owned(),
        false => value.replacen(trimmed, &secrets.stand_in(trimmed), 1),
    }
}

/// Replaces the values of `name="value"` and `name=value`, separated by commas (RFC 7616).
fn parameters(text: &str, secrets: &mut Secrets) -> String {
    let replaced: Vec<String> = text
        .split(',')
        .map(|pair| match pair.split_once('=') {
            Some((name, value)) => format!("{name}={}", quoted(value, secrets)),
            None => whole(pair, secrets),
        })
        .collect();
    replaced.join(",")
}

fn quoted(value: &str, secrets: &mut Secrets) -> String {
    let inner = value.trim().trim_matches('"');
    match inner.is_empty() {
        true => value.to_owned(),
        false => value.replacen(inner, &secrets.stand_in(inner), 1),
    }
}

/// Replaces the values of cookies (RFC 6265 sections 4.1.1 and 4.2.1); attributes stay.
fn cookies(text: &str, is_set: bool, secrets: &mut Secrets) -> String {
    let replaced: Vec<String> = text
        .split(';')
        .enumerate()
        .map(|(index, pair)| match pair.split_once('=') {
            Some((name, value)) if index == 0 || !is_set => {
                format!("{name}={}", quoted(value, secrets))
            }
            _ => pair.to_owned(),
        })
        .collect();
    replaced.join(";")
}
