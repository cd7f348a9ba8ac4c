//! Under which name a host is found in its network.

use super::Dialect;

/// The longest name of an instance, in bytes of UTF-8.
///
/// # Source
/// RFC 6763 section 4.1.1.
pub(super) const MAX_INSTANCE_BYTES: usize = 63;

/// Is what a dialect says about announcing, checked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AnnouncePlan {
    pub(super) service: String,
    pub(super) instance: Option<String>,
    pub(super) txt: Vec<(String, String)>,
}

/// Is a service as it is announced: DNS-SD (RFC 6763) over multicast DNS (RFC 6762).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Announcement {
    /// The service type, such as `_coldbed._tcp`.
    pub service: String,
    /// The name people see.
    pub instance: String,
    /// Keys and values for programs.
    pub txt: Vec<(String, String)>,
}

impl AnnouncePlan {
    /// Gives what is announced; `name` stands in when the dialect gives none.
    pub fn announcement(&self, name: &str) -> Announcement {
        Announcement {
            service: self.service.clone(),
            instance: self
                .instance
                .clone()
                .unwrap_or_else(|| Announcement::instance(name)),
            txt: self.txt.clone(),
        }
    }
}

impl Announcement {
    /// Gives the announcement of a printer whose dialect says nothing about it.
    pub fn of(name: &str) -> Self {
        Self {
            service: "_coldbed._tcp".to_owned(),
            instance: Self::instance(name),
            txt: Vec::new(),
        }
    }

    /// Makes the name of an instance of any text: no controls, no more than fits.
    fn instance(name: &str) -> String {
        let mut instance = String::new();
        for letter in name.trim().chars().filter(|letter| !letter.is_control()) {
            if instance.len() + letter.len_utf8() > MAX_INSTANCE_BYTES {
                break;
            }
            instance.push(letter);
        }
        if instance.is_empty() {
            instance.push_str("coldbed");
        }
        instance
    }
}

impl Dialect {
    /// Gives what the dialect says about announcing, if it does.
    pub fn announce(&self) -> Option<&AnnouncePlan> {
        self.announce.as_ref()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_name_becomes_an_instance_that_fits() {
        assert_eq!(Announcement::of(" desk printer ").instance, "desk printer");
        assert_eq!(Announcement::of("\n").instance, "coldbed");
        assert_eq!(Announcement::of(&"\u{e9}".repeat(40)).instance.len(), 62);
    }
}
