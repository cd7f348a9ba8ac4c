use super::*;

fn against(baseline: &Baseline, results: &[CheckResult]) -> Report {
    let mut checks = checks(results);
    for check in &mut checks {
        check.against_baseline = baseline.standing(check);
    }
    head().with(checks)
}

fn baseline(of: &[CheckResult]) -> Baseline {
    Baseline::read(&json(&report(of)), "plain").unwrap()
}

#[test]
fn what_was_broken_then_is_known_and_fails_nothing() {
    let results = results("");
    let report = against(&baseline(&results), &results);
    assert!(!report.is_failure());
    // The must and the should; what comes and goes is told as it is.
    assert_eq!((report.counts.known, report.counts.unsteady), (2, 1));
    assert_eq!(
        report.counts.to_string(),
        "1 passed, 0 failed, 2 skipped; 1 unsteady, 2 known from the baseline"
    );
}

#[test]
fn what_is_broken_now_and_was_not_then_is_new_and_fails() {
    let check = check("phase-told", Area::Telling, Level::Must);
    let then = baseline(&[passed(check, "")]);
    let report = against(&then, &[broken(check, &[violation(None, 1, "idle")], &[])]);
    assert!(report.is_failure());
    assert_eq!(report.checks[0].against_baseline, Some(Standing::New));
}

#[test]
fn what_is_kept_now_and_was_not_then_is_mended() {
    let check = check("phase-told", Area::Telling, Level::Must);
    let then = baseline(&[broken(check, &[violation(None, 1, "idle")], &[])]);
    let report = against(&then, &[passed(check, "")]);
    assert_eq!(report.checks[0].verdict().word(), "mended");
    assert_eq!((report.counts.passed, report.counts.mended), (1, 1));
    let said = super::super::terminal::summary(report.counts);
    assert!(
        said.contains("1 mended\n") && said.contains("new baseline"),
        "{said}"
    );
}

#[test]
fn what_was_skipped_now_is_neither_known_nor_mended() {
    let check = check("phase-told", Area::Telling, Level::Must);
    let then = baseline(&[broken(check, &[violation(None, 1, "idle")], &[])]);
    let report = against(&then, &[skipped(check, "no reason")]);
    assert_eq!(report.checks[0].against_baseline, None);
}

#[test]
fn the_baselines_of_two_parts_are_one() {
    let (one, two) = (
        results(""),
        [passed(check("phase-told", Area::Telling, Level::Must), "")],
    );
    let both = baseline(&two).and(baseline(&one));
    assert_eq!(both, baseline(&one));
}

#[test]
fn what_is_no_report_is_refused_with_what_it_is() {
    let good = json(&report(&results("")));
    let refusal = |text: &str, dialect: &str| {
        let error = Baseline::read(text, dialect).unwrap_err();
        let cause = std::error::Error::source(&error).map(ToString::to_string);
        format!("{error}: {}", cause.unwrap_or_default())
    };
    insta::assert_snapshot!(
        [
            refusal("passed", "plain"),
            refusal("{}", "plain"),
            refusal("[1]", "plain"),
            refusal(
                &good.replacen("\"seed\": 1", "\"seed\": \"one\"", 1),
                "plain"
            ),
            refusal(
                &good.replacen("\"report-version\": 1", "\"report-version\": 2", 1),
                "plain"
            ),
            refusal(&good, "flat"),
        ]
        .join("\n")
    );
}
