//! How the host asks for its key, from what the watcher sent and from how it was refused.

use coldbed_session::Session;

/// Gives the table `[auth]` as text, with its evidence as comments.
pub(super) fn auth(session: &Session) -> String {
    let requests = || session.exchanges.iter().map(|exchange| &exchange.request);
    let count = requests().count();
    let with = |name: &str| {
        requests()
            .filter(|request| request.field(name).is_some())
            .count()
    };
    let refused = session
        .exchanges
        .iter()
        .filter_map(|exchange| exchange.answer())
        .map(|answer| answer.status)
        .find(|status| matches!(status, 401 | 403));
    let scheme = |name: &str| {
        let begins = |value: &str| value.to_ascii_lowercase().starts_with(&format!("{name} "));
        requests().any(|request| request.field("authorization").is_some_and(begins))
    };
    let status = match refused {
        Some(status) => format!("status = {status}\n"),
        None => String::new(),
    };
    let realm = session
        .exchanges
        .iter()
        .filter_map(|exchange| exchange.answer()?.field("www-authenticate"))
        .find_map(|challenge| challenge.split("realm=\"").nth(1)?.split('"').next())
        .unwrap_or("printer");
    let realm = serde_json::Value::from(realm);
    for name in ["bearer", "basic"] {
        if scheme(name) {
            let with = with("authorization");
            let user = if name == "basic" {
                "user = \"watcher\"  # ? whose name it is was replaced\n"
            } else {
                ""
            };
            return format!(
                "# {with} of {count} requests had an Authorization field of this scheme.\n\
                 [auth]\nscheme = \"{name}\"\nrealm = {realm}\n{user}{}",
                refused
                    .filter(|status| *status != 401)
                    .map_or_else(String::new, |_| status.clone())
            );
        }
    }
    if let Some((name, with)) = key_field(session) {
        return format!(
            "# {with} of {count} requests had this field.\n[auth]\nscheme = \"header\"\nheader = \"{name}\"\n{status}"
        );
    }
    let evidence = "# ? No request had a key in a field that is known to have one.\n";
    match refused {
        Some(status) => format!(
            "{evidence}# ? The host answered {status}: it asks for something that is not seen here.\n"
        ),
        None => evidence.to_owned(),
    }
}

/// Finds a field of requests that is called a key or a token and had a credential, which a recorder replaces.
fn key_field(session: &Session) -> Option<(String, usize)> {
    let mut best: Option<(String, usize)> = None;
    for exchange in &session.exchanges {
        for (name, value) in &exchange.request.fields {
            let lower = name.to_ascii_lowercase();
            let is_key = ["key", "token"].iter().any(|word| lower.contains(word))
                && !lower.starts_with("sec-")
                && !value.is_empty();
            if is_key
                && best
                    .as_ref()
                    .is_none_or(|(known, _)| !known.eq_ignore_ascii_case(name))
            {
                let of =
                    |request: &&coldbed_session::Exchange| request.request.field(name).is_some();
                let count = session.exchanges.iter().filter(of).count();
                if best.as_ref().is_none_or(|(_, most)| count > *most) {
                    best = Some((name.clone(), count));
                }
            }
        }
    }
    best
}
