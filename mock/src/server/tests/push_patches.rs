//! Streams of merge patches, put together again by a reader of patches that is not ours.
//!
//! # Source
//! RFC 7396.

use std::time::Duration;

use serde_json::Value;

use super::common::{Bench, pushing};
use super::push_stream::{event, follow};
use crate::sim::Phase;

const PATCHES: &str = r#"{ form = "server-sent-events", period-ms = 10, messages = "merge-patch",
    event = "printer", patch-event = "change" }"#;

/// Takes the members away that are null: a patch cannot tell of them (RFC 7396 section 1).
fn without_nulls(mut value: Value) -> Value {
    if let Value::Object(members) = &mut value {
        members.retain(|_, member| !member.is_null());
        for member in members.values_mut() {
            *member = without_nulls(member.take());
        }
    }
    value
}

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

#[tokio::test]
async fn patches_add_up_to_the_full_body_over_a_whole_heat_up() {
    let push = PATCHES.replace('\n', " ");
    let bench = Bench::with(|options| options.dialect = pushing(&push)).await;
    let mut client = follow(&bench, "").await;
    let first = event(&mut client).await;
    assert_eq!(first.name.as_deref(), Some("printer"));
    let mut state = json(&first.data);
    let (mut full_bytes, mut patch_bytes) = (0, 0);
    let mut after = 20;
    let mut phases = vec![bench.host.truth().phase];
    // On until some while into the print.
    while after > 0 {
        assert!(phases.len() < 2000, "the heat-up has no end");
        bench.host.clock().step(Duration::from_secs(5));
        let change = event(&mut client).await;
        assert_eq!(change.name.as_deref(), Some("change"));
        json_patch::merge(&mut state, &json(&change.data));
        let body = bench.ask("GET /printer").await.body;
        assert_eq!(without_nulls(state.clone()), without_nulls(json(&body)));
        full_bytes += body.len();
        patch_bytes += change.data.len();
        phases.push(bench.host.truth().phase);
        after -= u32::from(phases.ends_with(&[Phase::Printing]));
    }
    phases.dedup();
    assert_eq!(phases, [Phase::Idle, Phase::Heating, Phase::Printing]);
    assert!(
        2 * patch_bytes < full_bytes,
        "{patch_bytes} of {full_bytes}"
    );
}

#[tokio::test]
async fn who_comes_back_gets_the_patches_it_missed_or_the_whole() {
    let bench = Bench::pushing(&PATCHES.replace('\n', " ")).await;
    let mut steady = follow(&bench, "").await;
    let first = event(&mut steady).await;
    let mut shown = Vec::new();
    for _ in 0..3 {
        bench.step();
        shown.push(event(&mut steady).await);
    }
    let mut back = follow(&bench, &format!("\nLast-Event-ID: {}", first.id)).await;
    for missed in &shown {
        assert_eq!(event(&mut back).await, *missed);
    }
    let mut stranger = follow(&bench, "\nLast-Event-ID: 1").await;
    let whole = event(&mut stranger).await;
    assert_eq!(whole.name.as_deref(), Some("printer"));
    assert_eq!(whole.id, shown[2].id);
    assert_eq!(whole.data, bench.ask("GET /printer").await.body);
}
