//! The page for people.

use super::{ask, bench, with};

#[tokio::test]
async fn the_page_is_html_that_runs_nothing_but_its_own_script() {
    let bench = bench().await;
    let reply = ask(&bench, "GET /").await;
    assert_eq!(reply.status, 200);
    assert_eq!(
        reply.field("content-type"),
        Some("text/html; charset=utf-8")
    );
    assert_eq!(reply.field("x-frame-options"), Some("DENY"));
    let policy = reply.field("content-security-policy").unwrap();
    assert!(policy.starts_with("default-src 'none'; script-src 'sha256-"));
    assert!(policy.contains("frame-ancestors 'none'"));
    assert!(!policy.contains("unsafe"));
    assert!(reply.body.contains("mock, not a printer"));
    // One of each, or the policy's hash would be of another text.
    for tag in ["<script>", "</script>", "<style>", "</style>"] {
        assert_eq!(reply.body.matches(tag).count(), 1, "{tag}");
    }
    // Nothing is fetched from elsewhere, and no text becomes HTML.
    for never in ["src=", "url(", "@import", "innerHTML", "insertAdjacentHTML"] {
        assert!(!reply.body.contains(never), "{never}");
    }
}

#[tokio::test]
async fn the_page_only_is_read() {
    let bench = bench().await;
    for method in ["POST", "PUT", "DELETE"] {
        let reply = ask(&bench, &format!("{method} /")).await;
        assert_eq!(
            (reply.status, reply.field("allow")),
            (405, Some("GET,HEAD")),
            "{method}"
        );
    }
}

#[tokio::test]
async fn the_page_is_shown_without_the_key_and_what_it_asks_for_is_not() {
    let bench = with(|options| {
        options.control.as_mut().unwrap().key = Some("open-sesame".to_owned());
    })
    .await;
    assert_eq!(ask(&bench, "GET /").await.status, 200);
    assert_eq!(ask(&bench, "GET /truth").await.status, 401);
    assert_eq!(ask(&bench, "GET //").await.status, 401);
}

#[tokio::test]
async fn the_page_is_not_for_other_hosts_and_origins() {
    let bench = bench().await;
    let reply = ask(&bench, "GET /\nHost: evil.example").await;
    assert_eq!(reply.status, 421);
    let reply = ask(&bench, "GET /\nOrigin: http://evil.example").await;
    assert_eq!(reply.status, 403);
}
