//! How answers are written.

use std::time::SystemTime;

use super::common::{Bench, Client, Reply};

/// Takes chunks apart: their sizes and the whole.
///
/// # Source
/// RFC 9112 section 7.1.
async fn chunks(client: &mut Client) -> (Vec<usize>, String) {
    let (mut sizes, mut whole) = (Vec::new(), String::new());
    loop {
        let line = client.until(b"\r\n").await;
        let size = usize::from_str_radix(line.trim_end(), 16).unwrap();
        let data = client.until(b"\r\n").await;
        assert_eq!(data.len(), size + 2, "the bodies here have no line ends");
        if size == 0 {
            return (sizes, whole);
        }
        sizes.push(size);
        whole.push_str(data.trim_end());
    }
}

#[tokio::test]
async fn a_chunked_body_has_no_length_and_several_chunks_rfc_9112_s7_1() {
    let plain = Bench::printing().await.ask("GET /printer").await;
    let bench = Bench::speaking("[http]\nlength = \"chunked\"").await;
    let mut client = bench.connect().await;
    client.send("GET /printer").await;
    let head = client.until(b"\r\n\r\n").await;
    assert!(head.contains("transfer-encoding: chunked\r\n"), "{head}");
    assert!(!head.contains("content-length"), "{head}");
    let (sizes, body) = chunks(&mut client).await;
    assert_eq!(body, plain.body);
    assert!(sizes.len() > 1, "{sizes:?}");
    // The connection goes on after the last chunk.
    client.send("GET /none").await;
    let head = client.until(b"\r\n\r\n").await;
    assert!(head.starts_with("HTTP/1.1 404 "), "{head}");
    assert!(head.contains("transfer-encoding: chunked\r\n"), "{head}");
}

#[tokio::test]
async fn a_client_of_http_1_0_is_told_the_length_rfc_9112_s6_1() {
    let bench = Bench::speaking("[http]\nlength = \"chunked\"").await;
    let mut client = bench.connect().await;
    client.raw(b"GET /printer HTTP/1.0\r\n\r\n").await;
    let reply = client.reply(true).await;
    assert_eq!(reply.field("transfer-encoding"), None);
    let length = reply.body.len().to_string();
    assert_eq!(reply.field("content-length"), Some(length.as_str()));
    assert!(reply.json()["printer-state"].is_string());
}

#[tokio::test]
async fn head_tells_no_length_where_get_tells_none_rfc_9110_s9_3_2() {
    let bench = Bench::speaking("[http]\nlength = \"chunked\"").await;
    let mut client = bench.connect().await;
    let head = client.ask("HEAD /printer").await;
    assert_eq!(head.status, 200);
    assert_eq!(head.field("content-length"), None, "{}", head.head);
    assert!(head.field("etag").is_some());
    // A body after HEAD, or a last chunk, would have been taken for this answer's head.
    assert_eq!(client.ask("OPTIONS /job").await.status, 204);
}

#[tokio::test]
async fn an_answer_without_content_is_not_chunked_rfc_9112_s6_1() {
    let bench =
        Bench::speaking("[http]\nlength = \"chunked\"\n[[redirects]]\npath = \"/\"\nto = \"/job\"")
            .await;
    let mut client = bench.connect().await;
    let tag = client.ask("HEAD /job").await;
    let tag = tag.field("etag").unwrap();
    for (request, status) in [
        (format!("GET /job\nIf-None-Match: {tag}"), 304),
        ("OPTIONS /job".to_owned(), 204),
        ("GET /".to_owned(), 302),
    ] {
        let reply = client.ask(&request).await;
        assert_eq!(reply.status, status);
        assert_eq!(reply.field("transfer-encoding"), None);
    }
}

#[tokio::test]
async fn field_names_begin_with_capitals_if_the_dialect_says_so_rfc_9110_s5_1() {
    let names = |reply: &Reply| -> Vec<String> {
        let lines = reply.head.lines().skip(1);
        let names = lines.filter_map(|line| Some(line.split_once(':')?.0.to_owned()));
        let mut names: Vec<String> = names.collect();
        names.sort();
        names
    };
    let title = Bench::speaking("[http]\nheader-case = \"title\"").await;
    assert_eq!(
        names(&title.ask("GET /printer").await),
        [
            "Cache-Control",
            "Content-Length",
            "Content-Type",
            "Date",
            "Etag"
        ]
    );
    let lower = Bench::speaking("[http]\nheader-case = \"lower\"").await;
    assert_eq!(
        names(&lower.ask("GET /printer").await),
        [
            "cache-control",
            "content-length",
            "content-type",
            "date",
            "etag"
        ]
    );
}

#[tokio::test]
async fn a_host_without_a_clock_sends_no_date_rfc_9110_s6_6_1() {
    let bench = Bench::speaking("[http]\ndate = false").await;
    for request in ["GET /printer", "GET /none", "OPTIONS *"] {
        assert_eq!(bench.ask(request).await.field("date"), None, "{request}");
    }
}

#[tokio::test]
async fn a_wrong_clock_shows_in_the_date() {
    #[expect(
        clippy::disallowed_methods,
        reason = "the date on the wire is the real one, put wrong"
    )]
    let now = SystemTime::now;
    for skew_s in [-86_400_i64, 7200] {
        let bench = Bench::speaking(&format!("[http]\ndate-skew-s = {skew_s}")).await;
        let seconds = |time: SystemTime| {
            let since = time.duration_since(SystemTime::UNIX_EPOCH).unwrap();
            i64::try_from(since.as_secs()).unwrap()
        };
        let before = seconds(now()) + skew_s;
        let reply = bench.ask("GET /printer").await;
        let after = seconds(now()) + skew_s;
        let date = httpdate::parse_http_date(reply.field("date").unwrap()).unwrap();
        let shown = seconds(date);
        assert!(
            (before..=after).contains(&shown),
            "{before} {shown} {after}"
        );
        assert_eq!(reply.head.matches("date: ").count(), 1, "{}", reply.head);
    }
}

#[tokio::test]
async fn a_host_that_does_not_look_answers_without_a_host_field() {
    let bench = Bench::speaking("[http]\nhost-field = false").await;
    for fields in ["", "Host: a\r\nHost: b\r\n"] {
        let mut client = bench.connect().await;
        client
            .raw(format!("GET /printer HTTP/1.1\r\n{fields}\r\n").as_bytes())
            .await;
        assert_eq!(client.reply(true).await.status, 200, "{fields:?}");
    }
}

#[tokio::test]
async fn an_ipv6_address_is_listened_on_and_written_in_brackets_rfc_3986_s3_2_2() {
    let bench = Bench::with(|options| options.listen = "[::1]:0".parse().unwrap()).await;
    let port = bench.host.local_addr().port();
    assert_eq!(bench.host.url(), format!("http://[::1]:{port}"));
    assert_eq!(bench.ask("GET /printer").await.status, 200);
}
