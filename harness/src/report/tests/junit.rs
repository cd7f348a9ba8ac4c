use proptest::prelude::*;
use quick_junit::{NonSuccessKind, TestCaseStatus};

use super::*;

#[test]
fn only_a_broken_must_is_a_failure() {
    let text = super::super::junit(&report(&results("phase printing"))).unwrap();
    insta::assert_snapshot!(text);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn whatever_was_written_the_file_is_read_back_case_by_case(odd in odd_text()) {
        let mut report = report(&results(&odd));
        report.watcher.clone_from(&odd);
        for check in &mut report.checks {
            check.reason = odd.clone();
            check.note = odd.clone();
        }
        let text = super::super::junit(&report).unwrap();
        roxmltree::Document::parse(&text).unwrap();
        let read = quick_junit::Report::deserialize_from_str(&text).unwrap();
        let cases = read.test_suites.iter().flat_map(|suite| &suite.test_cases);
        let cases: Vec<_> = cases.collect();
        let ids: Vec<&str> = cases.iter().map(|case| case.name.as_str()).collect();
        let known: Vec<&str> = report.checks.iter().map(|check| check.id.as_str()).collect();
        prop_assert_eq!(ids, known);
        let is_failure = |status: &TestCaseStatus| matches!(
            status,
            TestCaseStatus::NonSuccess { kind: NonSuccessKind::Failure, .. }
        );
        prop_assert_eq!(cases.iter().filter(|case| is_failure(&case.status)).count(), 1);
    }
}
