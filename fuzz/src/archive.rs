//! The text of an archive (HAR 1.2), of whoever wrote it.

use coldbed_session::{SessionFile, har};

/// Reads an archive. What is read is a session that can be written and read again; what is not says so.
///
/// # Panics
/// One of these does not hold.
pub fn target(bytes: &[u8]) {
    let Some(text) = super::text(bytes) else {
        return;
    };
    match har::import(text, None) {
        Ok(imported) => super::assert_read_again(&imported.session),
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}

/// Gives an archive of another program's kind, and the one that a session becomes.
pub fn seeds() -> Vec<Vec<u8>> {
    const FOREIGN: &str = r#"{"log": {"version": "1.2", "creator": {"name": "own", "version": "1"}, "entries": [
        {"startedDateTime": "2026-11-24T21:03:11.250Z", "time": 14.5,
         "request": {"method": "GET", "url": "http://printer.example/printer?fields=job",
                     "httpVersion": "HTTP/1.1", "headers": [{"name": "Accept", "value": "*/*"}]},
         "response": {"status": 200, "statusText": "OK", "httpVersion": "HTTP/1.1",
                      "headers": [{"name": "Content-Type", "value": "application/json"}],
                      "content": {"size": 12, "mimeType": "application/json", "text": "{\"job\":null}"}},
         "timings": {"send": 0.1, "wait": 12, "receive": 2.4}},
        {"startedDateTime": "2026-11-24T22:03:41+01:00", "time": 0,
         "request": {"method": "POST", "url": "http://printer.example/job/cancel", "httpVersion": "h2",
                     "headers": [], "postData": {"mimeType": "text/plain", "text": "a=b"}},
         "response": {"status": 0, "statusText": "", "httpVersion": "", "headers": [],
                      "content": {"size": 3, "text": "AP8B", "encoding": "base64"}},
         "timings": {"wait": -1}}]}}"#;
    let own = super::session::seeds().into_iter().filter_map(|seed| {
        let read = SessionFile::read(std::str::from_utf8(&seed).ok()?).ok()?;
        Some(har::export(&read.session).text().into_bytes())
    });
    own.chain([FOREIGN.as_bytes().to_vec()]).collect()
}
