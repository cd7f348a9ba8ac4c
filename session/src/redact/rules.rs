//! What counts as a credential.

use std::collections::BTreeSet;

/// Says what is replaced. Names are compared without regard to case, `-` and `_`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rules {
    /// Fields of a message.
    fields: BTreeSet<String>,
    /// Keys of a query or of a form.
    queries: BTreeSet<String>,
    /// Members of JSON, at any depth.
    members: BTreeSet<String>,
    /// Members of JSON by RFC 6901 pointer.
    pointers: BTreeSet<String>,
    /// Values, wherever they stand.
    values: Vec<String>,
}

/// Says why a rule is none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RuleError {
    /// A name is empty.
    #[error("a name is empty")]
    Empty,
    /// A pointer is none.
    #[error("`{0}` is no JSON Pointer (RFC 6901: `~` is followed by 0 or 1)")]
    Pointer(String),
    /// A value is too short to be looked for.
    #[error(
        "a value is shorter than {} bytes, so it would be found in too many places",
        super::SHORTEST
    )]
    Short,
}

/// Fields that carry credentials: RFC 9110 sections 11.6.2 and 11.7.2, RFC 6265; the rest common practice.
const FIELDS: [&str; 9] = [
    "Authorization",
    "Proxy-Authorization",
    "Cookie",
    "Set-Cookie",
    "Authentication-Info",
    "X-Api-Key",
    "Api-Key",
    "X-Auth-Token",
    "X-Access-Token",
];

/// Names under which credentials stand in queries, forms and bodies (common practice).
const NAMES: [&str; 17] = [
    "key",
    "api-key",
    "apikey",
    "access-key",
    "access-code",
    "token",
    "access-token",
    "refresh-token",
    "auth",
    "auth-token",
    "password",
    "passwd",
    "passphrase",
    "pin",
    "secret",
    "client-secret",
    "session-id",
];

impl Default for Rules {
    fn default() -> Self {
        let all = |names: &[&str]| {
            names
                .iter()
                .map(|name| plain(name))
                .collect::<BTreeSet<_>>()
        };
        Self {
            fields: all(&FIELDS),
            queries: all(&NAMES),
            members: all(&NAMES),
            pointers: BTreeSet::new(),
            values: Vec::new(),
        }
    }
}

impl Rules {
    /// Adds a field by name.
    ///
    /// # Errors
    /// [`RuleError::Empty`].
    pub fn add_field(&mut self, name: &str) -> Result<(), RuleError> {
        self.fields.insert(named(name)?);
        Ok(())
    }

    /// Adds a key of queries and forms.
    ///
    /// # Errors
    /// [`RuleError::Empty`].
    pub fn add_query(&mut self, name: &str) -> Result<(), RuleError> {
        self.queries.insert(named(name)?);
        Ok(())
    }

    /// Adds a member of JSON, by name at any depth or, if it begins with `/`, by pointer.
    ///
    /// # Errors
    /// [`RuleError::Empty`], [`RuleError::Pointer`].
    pub fn add_member(&mut self, name_or_pointer: &str) -> Result<(), RuleError> {
        if !name_or_pointer.starts_with('/') {
            self.members.insert(named(name_or_pointer)?);
            return Ok(());
        }
        let mut escapes = name_or_pointer.split('~').skip(1);
        if escapes.any(|after| !after.starts_with(['0', '1'])) {
            return Err(RuleError::Pointer(name_or_pointer.to_owned()));
        }
        self.pointers.insert(name_or_pointer.to_owned());
        Ok(())
    }

    /// Adds a value.
    ///
    /// # Errors
    /// [`RuleError::Short`].
    pub fn add_value(&mut self, value: &str) -> Result<(), RuleError> {
        if value.len() < super::SHORTEST {
            return Err(RuleError::Short);
        }
        self.values.push(value.to_owned());
        Ok(())
    }

    /// Says what is replaced, without any value.
    pub fn told(&self) -> Vec<String> {
        let list = |what: &str, names: &BTreeSet<String>| {
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            (!names.is_empty()).then(|| format!("{what} {}", names.join(", ")))
        };
        let values = (!self.values.is_empty()).then(|| format!("{} values", self.values.len()));
        [
            list("fields", &self.fields),
            list("query keys", &self.queries),
            list("members", &self.members),
            list("members at", &self.pointers),
            values,
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    pub(super) fn values(&self) -> &[String] {
        &self.values
    }

    pub(super) fn is_field(&self, name: &str) -> bool {
        self.fields.contains(&plain(name))
    }

    pub(super) fn is_query(&self, name: &str) -> bool {
        self.queries.contains(&plain(name))
    }

    pub(super) fn is_member(&self, name: &str, pointer: &str) -> bool {
        self.members.contains(&plain(name)) || self.pointers.contains(pointer)
    }
}

fn named(name: &str) -> Result<String, RuleError> {
    match name.trim() {
        "" => Err(RuleError::Empty),
        name => Ok(plain(name)),
    }
}

/// Gives a name as it is compared.
fn plain(name: &str) -> String {
    name.chars()
        .filter(|sign| !matches!(sign, '-' | '_' | ' '))
        .flat_map(char::to_lowercase)
        .collect()
}
