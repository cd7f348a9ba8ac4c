use proptest::prelude::*;
use serde_json::Value;

use super::*;

#[test]
fn what_may_fail_is_a_todo_and_what_was_not_judged_a_skip() {
    insta::assert_snapshot!(super::super::tap(&report(&results("phase # printing"))));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn whatever_was_written_there_are_as_many_points_as_planned(odd in odd_text()) {
        let mut report = report(&results(&odd));
        for check in &mut report.checks {
            check.reason = odd.clone();
        }
        let text = super::super::tap(&report);
        let points: Vec<&str> = text
            .lines()
            .filter(|line| line.starts_with("ok ") || line.starts_with("not ok "))
            .collect();
        prop_assert_eq!(points.len(), report.checks.len());
        // A `#` that begins no directive is escaped, and so there is one directive at most.
        for point in points {
            let bare = point.replace("\\\\", "").replace("\\#", "");
            prop_assert!(bare.matches('#').count() <= 1, "{}", point);
        }
        let begins = text.lines().filter(|line| *line == "  ---").count();
        let ends = text.lines().filter(|line| *line == "  ...").count();
        prop_assert_eq!((begins, ends), (3, 3));
        for line in text.lines().filter(|line| line.starts_with("      observed: ")) {
            let value = line.split_once(": ").unwrap().1;
            prop_assert!(serde_json::from_str::<Value>(value).unwrap().is_string());
        }
    }
}
