//! The `push` of a route.

use std::time::Duration;

use crate::dialect::{
    AtTimeout, Dialect, EventStreamPlan, LongPollIds, LongPollPlan, PingPlan, PushForm,
    PushMessages, PushOn, PushPlan, WebSocketPlan,
};

/// Gives a dialect with one route that pushes so, and this body.
fn read(push: &str, body: &str) -> Result<PushPlan, String> {
    let text = format!(
        "auth = {{ scheme = \"none\" }}\nproblem = {{ body = '\"x\"' }}\n\n\
         [[routes]]\nmethod = \"GET\"\npath = \"/\"\npush = {{ {push} }}\nbody = '{body}'\n"
    );
    let dialect = Dialect::parse("my.toml", &text).map_err(|error| error.to_string())?;
    let matched = super::shown_at(&dialect, "/");
    Ok(dialect.push_plan(matched.route).unwrap().clone())
}

fn plan(push: &str) -> PushPlan {
    read(push, r#"{ "phase": "{{ phase }}" }"#).unwrap()
}

fn form(push: &str) -> PushForm {
    plan(push).form
}

fn slip(push: &str) -> String {
    read(push, r#"{ "phase": "{{ phase }}" }"#).unwrap_err()
}

#[test]
fn what_a_file_leaves_out_has_a_default() {
    let stream = plan(r#"form = "server-sent-events", period-ms = 500"#);
    assert_eq!(stream.period, Duration::from_millis(500));
    assert_eq!(
        (stream.on, stream.messages),
        (PushOn::Change, PushMessages::Full)
    );
    let expected = EventStreamPlan {
        event: None,
        patch_event: None,
        keep_alive: Duration::from_secs(15),
        retry: Duration::from_secs(2),
    };
    assert_eq!(stream.form, PushForm::ServerSentEvents(expected));
    let expected = WebSocketPlan {
        pings: Some(PingPlan {
            every: Duration::from_secs(30),
            pong_within: Duration::from_secs(10),
        }),
        subprotocol: None,
    };
    let websocket = form(r#"form = "websocket", period-ms = 500"#);
    assert_eq!(websocket, PushForm::WebSocket(expected));
    let expected = LongPollPlan {
        timeout: Duration::from_secs(30),
        ids: None,
        at_timeout: AtTimeout::NoContent,
    };
    let long_poll = form(r#"form = "long-poll", period-ms = 200"#);
    assert_eq!(long_poll, PushForm::LongPoll(expected));
}

#[test]
fn every_key_is_followed() {
    let stream = plan(
        r#"form = "server-sent-events", period-ms = 10, on = "period", messages = "merge-patch",
           event = "all", patch-event = "some", keep-alive-s = 1, retry-ms = 0"#
            .replace('\n', " ")
            .as_str(),
    );
    assert_eq!(stream.on, PushOn::Period);
    assert_eq!(stream.messages, PushMessages::MergePatch);
    let expected = EventStreamPlan {
        event: Some("all".to_owned()),
        patch_event: Some("some".to_owned()),
        keep_alive: Duration::from_secs(1),
        retry: Duration::ZERO,
    };
    assert_eq!(stream.form, PushForm::ServerSentEvents(expected));
    let expected = WebSocketPlan {
        pings: Some(PingPlan {
            every: Duration::from_secs(5),
            pong_within: Duration::from_secs(5),
        }),
        subprotocol: Some("v2.printer".try_into().unwrap()),
    };
    let websocket = r#"form = "websocket", period-ms = 10, ping-s = 5, pong-within-s = 5, subprotocol = "v2.printer""#;
    assert_eq!(form(websocket), PushForm::WebSocket(expected));
    let quiet = WebSocketPlan {
        pings: None,
        subprotocol: None,
    };
    let websocket = r#"form = "websocket", period-ms = 10, ping-s = 0"#;
    assert_eq!(form(websocket), PushForm::WebSocket(quiet));
    let expected = LongPollPlan {
        timeout: Duration::from_secs(3600),
        ids: Some(LongPollIds {
            since: "after".to_owned(),
            header: "state-number".try_into().unwrap(),
        }),
        at_timeout: AtTimeout::NotModified,
    };
    let long_poll = r#"form = "long-poll", period-ms = 10, timeout-s = 3600, since = "after", id-header = "State-Number", at-timeout = 304"#;
    assert_eq!(form(long_poll), PushForm::LongPoll(expected));
}

#[test]
fn every_slip_names_the_key_and_what_is_allowed() {
    let slips = [
        r#"form = "web-socket", period-ms = 10"#,
        r#"form = "websocket", period-ms = 9"#,
        r#"form = "websocket", period-ms = 10, retry-ms = 10"#,
        r#"form = "server-sent-events", period-ms = 10, ping-s = 10"#,
        r#"form = "long-poll", period-ms = 10, messages = "full""#,
        r#"form = "websocket", period-ms = 10, on = "chance""#,
        r#"form = "websocket", period-ms = 10, messages = "patch""#,
        r#"form = "server-sent-events", period-ms = 10, event = "a\nb""#,
        r#"form = "server-sent-events", period-ms = 10, event = """#,
        r#"form = "server-sent-events", period-ms = 10, patch-event = "a""#,
        r#"form = "server-sent-events", period-ms = 10, keep-alive-s = 0"#,
        r#"form = "websocket", period-ms = 10, ping-s = 3601"#,
        r#"form = "websocket", period-ms = 10, ping-s = 5, pong-within-s = 6"#,
        r#"form = "websocket", period-ms = 10, ping-s = 0, pong-within-s = 6"#,
        r#"form = "websocket", period-ms = 10, subprotocol = "a b""#,
        r#"form = "websocket", period-ms = 10, subprotocol = """#,
        r#"form = "long-poll", period-ms = 10, since = "a""#,
        r#"form = "long-poll", period-ms = 10, id-header = "a""#,
        r#"form = "long-poll", period-ms = 10, since = "a", id-header = "a b""#,
        r#"form = "long-poll", period-ms = 10, at-timeout = 205"#,
        r#"form = "long-poll", period-ms = 10, timeout-s = 0"#,
    ]
    .map(slip);
    insta::assert_snapshot!(slips.join("\n"));
}

#[test]
fn patches_need_an_object() {
    let push = r#"form = "websocket", period-ms = 10, messages = "merge-patch""#;
    let error = read(push, r#"["{{ phase }}"]"#).unwrap_err();
    assert_eq!(
        error,
        "my.toml: routes[0].body: cannot be rendered with no job: messages = \"merge-patch\" needs \
         an object, and this is none (RFC 7396 changes members)"
    );
    assert!(read(&push.replace("merge-patch", "full"), r#"["{{ phase }}"]"#).is_ok());
}
