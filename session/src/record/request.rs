//! A request on its way through.

use bytes::Bytes;
use http::Method;
use http::uri::Uri;

use super::options::Upstream;
use crate::http::head::{self, AnswerHead, RequestHead};

/// Tells why a request is not passed on to a host that must not be changed.
pub(super) fn refusal(head: &RequestHead, allows_commands: bool) -> Option<&'static str> {
    if allows_commands {
        return None;
    }
    // RFC 9110 section 9.2.1.
    let is_safe = head
        .method
        .parse::<Method>()
        .is_ok_and(|method| method.is_safe());
    if !is_safe {
        return Some("its method may change something");
    }
    // What a watcher says on it may be a command.
    head::has_word(&head.fields, "connection", "upgrade").then_some("it asks for another protocol")
}

/// Gives the recorder's own answer to a request that is not passed on (RFC 9457).
pub(super) fn refused(head: &RequestHead, why: &str) -> Bytes {
    let detail = format!(
        "{} {} was not passed on: {why} [start the recorder with --allow-commands to let it through]",
        head.method, head.target
    );
    let body = serde_json::json!({
        "type": "about:blank",
        "title": "Forbidden",
        "status": 403,
        "detail": detail,
    })
    .to_string();
    let content = if head.method == "HEAD" { "" } else { &body };
    Bytes::from(format!(
        "HTTP/1.1 403 Forbidden\r\nContent-Type: application/problem+json\r\nContent-Length: {}\r\n\
         Connection: close\r\n\r\n{content}",
        body.len()
    ))
}

/// Gives the head that goes on to the host: asked of it by its own name, and without what would make
/// the answer unreadable.
///
/// `Accept-Encoding` goes, so that the file can be read and secrets in bodies are found; so do the
/// extensions of WebSocket, of which the usual one packs messages (RFC 7692).
pub(super) fn for_host(head: &RequestHead, upstream: &Upstream) -> Bytes {
    const LEFT_OUT: [&str; 2] = ["accept-encoding", "sec-websocket-extensions"];
    let mut text = format!(
        "{} {} {}\r\n",
        head.method,
        head.target,
        head.version.name()
    );
    for (name, value) in &head.fields {
        if LEFT_OUT
            .iter()
            .any(|left_out| name.eq_ignore_ascii_case(left_out))
        {
            continue;
        }
        let value = match name.eq_ignore_ascii_case("host") {
            true => &upstream.authority(),
            false => value,
        };
        text.push_str(&format!("{name}: {value}\r\n"));
    }
    text.push_str("\r\n");
    Bytes::from(text)
}

/// Gives the head that goes on to the watcher if it sends it to the host's own origin: it would walk
/// past the recorder.
pub(super) fn for_watcher(head: &AnswerHead, upstream: &Upstream, own: &str) -> Option<Bytes> {
    let mut fields = head.fields.clone();
    let location = fields
        .iter_mut()
        .find(|(name, _)| name.eq_ignore_ascii_case("location"))?;
    let uri: Uri = location.1.parse().ok()?;
    let port = uri
        .port_u16()
        .unwrap_or(if upstream.https { 443 } else { 80 });
    let is_own_scheme = uri.scheme_str() == Some(if upstream.https { "https" } else { "http" });
    let is_host = uri
        .host()
        .is_some_and(|host| host.eq_ignore_ascii_case(&upstream.host));
    if !is_own_scheme || !is_host || port != upstream.port {
        return None;
    }
    let rest = uri.path_and_query().map_or("/", |rest| rest.as_str());
    location.1 = format!("{own}{rest}");
    Some(crate::wire::head(
        head.version,
        head.status,
        &head.reason,
        &fields,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn request(text: &str) -> RequestHead {
        head::request(text.as_bytes()).unwrap().unwrap().0
    }

    #[test]
    fn only_safe_methods_go_on_rfc_9110_s9_2_1() {
        for method in ["GET", "HEAD", "OPTIONS", "TRACE"] {
            assert_eq!(
                refusal(&request(&format!("{method} / HTTP/1.1\r\n\r\n")), false),
                None
            );
        }
        for method in ["POST", "PUT", "DELETE", "PATCH", "PURGE", "get"] {
            let head = request(&format!("{method} / HTTP/1.1\r\n\r\n"));
            assert!(refusal(&head, false).is_some(), "{method}");
            assert_eq!(refusal(&head, true), None);
        }
        let upgrade = request("GET / HTTP/1.1\r\nConnection: keep-alive, Upgrade\r\n\r\n");
        assert!(refusal(&upgrade, false).is_some());
    }

    #[test]
    fn the_host_is_asked_by_its_own_name_for_readable_answers() {
        let upstream = Upstream::parse("http://printer.example:8080").unwrap();
        let head = request(
            "GET /a?b HTTP/1.1\r\nhost: 127.0.0.1:1\r\nAccept-Encoding: gzip\r\nX-Y: z\r\n\r\n",
        );
        let sent = for_host(&head, &upstream);
        assert_eq!(
            sent,
            "GET /a?b HTTP/1.1\r\nhost: printer.example:8080\r\nX-Y: z\r\n\r\n"
        );
    }

    #[test]
    fn a_redirect_to_the_host_leads_to_the_recorder_and_another_one_away() {
        let upstream = Upstream::parse("http://printer.example").unwrap();
        let answer = |location: &str| {
            let text = format!("HTTP/1.1 302 Found\r\nLocation: {location}\r\n\r\n");
            let head = head::answer(text.as_bytes()).unwrap().unwrap().0;
            for_watcher(&head, &upstream, "http://127.0.0.1:9")
        };
        let changed = answer("http://printer.example:80/x?y=1").unwrap();
        assert_eq!(
            changed,
            "HTTP/1.1 302 Found\r\nLocation: http://127.0.0.1:9/x?y=1\r\n\r\n"
        );
        assert_eq!(answer("/x"), None);
        assert_eq!(answer("https://printer.example/x"), None);
        assert_eq!(answer("http://other.example/x"), None);
    }
}
