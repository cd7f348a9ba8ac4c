//! What `[http]` and `[[redirects]]` can have wrong, and how it is told.

use super::with_body;
use crate::dialect::Dialect;

/// Gives the message for a dialect with something added, which begins on line 18.
fn slip(added: &str) -> String {
    let text = with_body("{}\n") + added;
    let message = match Dialect::parse("my.toml", &text) {
        Ok(_) => "no slip found".to_owned(),
        Err(error) => error.to_string(),
    };
    format!("{}\n    {message}", added.replace('\n', " | "))
}

#[test]
fn every_slip_of_http_is_told_with_its_field_and_what_is_allowed() {
    let slips = [
        "[http]\nversion = \"2\"",
        "[http]\nlength = \"chunks\"",
        "[http]\ngzip = \"when-aksed\"",
        "[http]\nheader-case = \"upper\"",
        "[http]\nkeepalive = false",
        "[http]\nkeep-alive = \"no\"",
        "[http]\nkeep-alive-requests = 0",
        "[http]\nkeep-alive-idle-s = 0",
        "[http]\nkeep-alive-idle-s = 86401",
        "[http]\ndate-skew-s = -315360001",
        "[http]\ndate = false\ndate-skew-s = 1",
        "[http]\nversion = \"1.0\"\nlength = \"chunked\"",
        "[http]\nversion = \"1.0\"\nkeep-alive = true",
        "[http]\nversion = \"1.0\"\nkeep-alive-idle-s = 5",
        "[http]\nkeep-alive = false\nkeep-alive-requests = 5",
    ];
    insta::assert_snapshot!(slips.map(slip).join("\n"));
}

#[test]
fn every_slip_of_cors_is_told_with_its_field_and_what_is_allowed() {
    let slips = [
        "[http.cors]\norigins = [\"http://a.test/\"]",
        "[http.cors]\norigins = [\"http://A.test\"]",
        "[http.cors]\norigins = [\"http://a.test:80\"]",
        "[http.cors]\norigins = [\"a.test\"]",
        "[http.cors]\norigins = [\"http://a.test\", \"*\"]",
        "[http.cors]\nheaders = [\"a b\"]",
        "[http.cors]\nmethods = [\"PUTT\"]",
        "[http.cors]\nexpose = [\"\"]",
        "[http.cors]\nmax-age-s = 86401",
        "[http.cors]\norigin = []",
        "[http.cors]\ncredentials = true",
        "[http.cors]\norigins = [\"http://a.test\"]\nexpose = [\"*\"]\ncredentials = true",
    ];
    insta::assert_snapshot!(slips.map(slip).join("\n"));
}

#[test]
fn every_slip_of_a_redirect_is_told_with_its_field_and_what_is_allowed() {
    let redirect = |keys: &str| format!("[[redirects]]\n{keys}");
    let slips = [
        "path = \"a\"\nto = \"/b\"",
        "path = \"/{a}\"\nto = \"/b\"",
        "path = \"/a\"",
        "path = \"/a\"\nto = \"b\"",
        "path = \"/a\"\nto = \"//b.test/\"",
        "path = \"/a\"\nto = \"ftp://b.test/\"",
        "path = \"/a\"\nto = \"/b c\"",
        "path = \"/a\"\nto = \"/b\"\nstatus = 304",
        "path = \"/a\"\nto = \"/b\"\nmethod = \"PSOT\"",
        "path = \"/\"\nto = \"/b\"",
        "path = \"/\"\nto = \"/b\"\nmethod = \"GET\"",
        "path = \"/a\"\nto = \"/b\"\n[[redirects]]\npath = \"/a\"\nto = \"/c\"\nmethod = \"PUT\"",
    ];
    insta::assert_snapshot!(slips.map(|keys| slip(&redirect(keys))).join("\n"));
}

#[test]
fn what_is_right_is_taken() {
    for added in [
        "[http]",
        "[http]\nversion = \"1.0\"\nkeep-alive = false",
        "[http]\nkeep-alive-requests = 1\nkeep-alive-idle-s = 86400\nlength = \"chunked\"",
        "[http]\ndate-skew-s = -315360000\nhost-field = false\nheader-case = \"title\"",
        "[http.cors]",
        "[http.cors]\norigins = [\"https://a.test:80\", \"null\"]\ncredentials = true",
        "[http.cors]\norigins = []\nheaders = [\"*\"]\nmethods = [\"*\"]\nexpose = []",
        "[[redirects]]\npath = \"/\"\nto = \"http://b.test\"\nmethod = \"PUT\"",
        "[[redirects]]\npath = \"/a\"\nto = \"/b\"\nmethod = \"PUT\"\n\
         [[redirects]]\npath = \"/a\"\nto = \"/c\"\nmethod = \"POST\"",
    ] {
        let text = with_body("{}\n") + added;
        let parsed = Dialect::parse("my.toml", &text);
        assert!(parsed.is_ok(), "{added}: {}", parsed.unwrap_err());
    }
}
