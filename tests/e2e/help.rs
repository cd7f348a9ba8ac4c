use crate::common::{run, stdout};

#[test]
fn help_says_what_each_flag_does() {
    let mut text = String::new();
    for command in [
        &["--help"][..],
        &["serve", "--help"],
        &["check", "--help"],
        &["record", "--help"],
        &["replay", "--help"],
        &["session", "--help"],
        &["session", "show", "--help"],
        &["session", "cut", "--help"],
        &["session", "scrub", "--help"],
        &["session", "import", "--help"],
        &["session", "export", "--help"],
        &["shrink", "--help"],
        &["dialect", "--help"],
        &["dialect", "lint", "--help"],
        &["dialect", "describe", "--help"],
    ] {
        let output = run(command);
        assert!(output.status.success());
        text.push_str(&format!(
            "$ coldbed {}\n{}\n",
            command.join(" "),
            stdout(&output)
        ));
    }
    insta::assert_snapshot!(text);
}

#[test]
fn the_lists_name_every_scenario_and_every_check() {
    let scenarios = stdout(&run(&["list"]));
    let checks = stdout(&run(&["check", "--list"]));
    insta::assert_snapshot!(format!(
        "$ coldbed list\n{scenarios}\n$ coldbed check --list\n{checks}"
    ));
}
