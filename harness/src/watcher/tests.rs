//! Watchers with processes and as tasks, started and ended for real.

use std::time::Duration;

use coldbed_mock::sim::Phase;
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use super::{
    Call, Claim, CommandKind, Output, PhaseClaim, Resources, RunningWatcher, Sighting, StartError,
    Watcher, WatcherFile,
};

/// What is waited for comes at once; only a failure waits this long.
const PATIENCE: Duration = Duration::from_secs(20);

fn call() -> Call {
    Call {
        url: "http://127.0.0.1:9".to_owned(),
        key: "k".to_owned(),
        dialect: "plain".to_owned(),
        interval: Some(Duration::from_millis(250)),
        authority: Some("/tmp/ca.pem".into()),
    }
}

fn shell(script: &str) -> Watcher {
    Watcher::from_command(["sh", "-c", script].map(str::to_owned).to_vec())
}

async fn start(watcher: &Watcher) -> (RunningWatcher, UnboundedReceiver<Output>) {
    let (sink, output) = unbounded_channel();
    let running = watcher.start(&call(), sink).await.unwrap();
    (running, output)
}

async fn next(output: &mut UnboundedReceiver<Output>) -> Output {
    let next = tokio::time::timeout(PATIENCE, output.recv());
    next.await.expect("in time").expect("still running")
}

async fn next_line(output: &mut UnboundedReceiver<Output>) -> String {
    match next(output).await {
        Output::Line { text, .. } => text,
        other => panic!("no line: {other:?}"),
    }
}

/// Looks again and again until something is so; looking costs next to nothing.
async fn until(running: &RunningWatcher, is_so: impl Fn(Option<Resources>) -> bool) {
    let waited = tokio::time::timeout(PATIENCE, async {
        while !is_so(running.resources()) {
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
    });
    waited
        .await
        .unwrap_or_else(|_| panic!("{:?}", running.resources()));
}

#[tokio::test]
async fn a_commands_words_are_filled_and_its_last_words_come_before_its_end() {
    let watcher =
        shell("echo '{url} {key} {dialect} {interval} {authority}'; echo bad >&2; exit 3");
    assert!(watcher.takes_interval());
    let (_running, mut output) = start(&watcher).await;
    let mut lines = [next_line(&mut output).await, next_line(&mut output).await];
    lines.sort();
    assert_eq!(
        lines,
        ["bad", "http://127.0.0.1:9 k plain 0.25 /tmp/ca.pem"]
    );
    let end = next(&mut output).await;
    assert_eq!(end, Output::Exited("exit status: 3".to_owned()));
}

#[tokio::test]
async fn a_file_gives_environment_folder_and_stream() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("watcher.toml");
    let text = r#"
command = ["sh", "-c", 'echo "$WHERE"; pwd; echo "state $STATE" >&2; sleep 60']
environment = { WHERE = "at {url}", STATE = "WARM" }
[sightings]
from = "stderr"
lines = { pattern = '^state (?<state>\w+)$' }
fields = { phase = "state" }
words = { heating = ["WARM"] }
"#;
    std::fs::write(&file, text).unwrap();
    let watcher = Watcher::from_file(WatcherFile::load(&file).unwrap());
    assert!(!watcher.takes_interval() && !watcher.is_attached());
    assert_eq!(watcher.name(), file.display().to_string());
    let (running, mut output) = start(&watcher).await;
    let mut lines = Vec::new();
    let mut phase = Claim::NotReported;
    for _ in 0..3 {
        match next(&mut output).await {
            Output::Sighting(sighting) => phase = sighting.phase,
            Output::Line { text, .. } => lines.push(text),
            Output::Exited(how) => panic!("{how}"),
        }
    }
    let here = folder.path().canonicalize().unwrap();
    assert_eq!(lines, ["at http://127.0.0.1:9", here.to_str().unwrap()]);
    assert_eq!(phase, Claim::Value(PhaseClaim::Known(Phase::Heating)));
    running.stop().await;
}

#[tokio::test]
async fn a_command_is_told_where_to_post_and_what_it_posts_is_a_sighting() {
    // The shell has no client of its own; the test posts for it.
    let text = r#"
command = ["sh", "-c", "echo {callback}; exec sleep 60"]
sightings = { from = { callback = {} } }
"#;
    let watcher = Watcher::from_file(WatcherFile::parse("w.toml", text).unwrap());
    let (running, mut output) = start(&watcher).await;
    let url = next_line(&mut output).await;
    assert_eq!(Some(url.as_str()), running.callback_url());
    let body = r#"{"phase":"printing"}"#;
    // Fails if another test was faster: then there is one.
    let _ = rustls::crypto::ring::default_provider().install_default();
    let answer = reqwest::Client::new()
        .post(&url)
        .body(body)
        .send()
        .await
        .unwrap();
    assert_eq!(answer.status(), 204);
    let seen = Sighting::from_line(body).unwrap();
    assert_eq!(next(&mut output).await, Output::Sighting(seen));
    running.stop().await;
}

#[tokio::test]
async fn a_line_without_end_is_cut_while_it_is_read() {
    let watcher = shell("head -c 300000 /dev/zero | tr '\\0' x; echo; echo '{\"phase\":\"idle\"}'");
    let (_running, mut output) = start(&watcher).await;
    assert_eq!(next_line(&mut output).await.len(), super::cut::LINE_LIMIT);
    assert!(matches!(next(&mut output).await, Output::Sighting(_)));
}

#[tokio::test]
async fn a_shell_with_a_child_is_measured_as_a_group() {
    let (running, mut output) = start(&shell("sleep 60 & echo up; wait")).await;
    assert_eq!(next_line(&mut output).await, "up");
    until(&running, |used| {
        used.is_some_and(|used| used.processes == 2)
    })
    .await;
    let used = running.resources().unwrap();
    // Two processes with three open files each, and not much memory: a page at least, 100 MB at most.
    assert!(used.open_files >= 6, "{used:?}");
    assert!(
        (4096..100_000_000).contains(&used.resident_bytes),
        "{used:?}"
    );
    assert!(used.cpu < PATIENCE, "{used:?}");
    running.stop().await;
}

#[tokio::test]
async fn time_on_a_processor_is_counted_also_of_children_that_have_ended() {
    let busy = "n=0; while [ $n -lt 200000 ]; do n=$((n+1)); done";
    let (running, mut output) =
        start(&shell(&format!("sh -c '{busy}'; echo done; sleep 60"))).await;
    assert_eq!(next_line(&mut output).await, "done");
    let used = running.resources().unwrap();
    assert!(used.cpu > Duration::ZERO, "{used:?}");
    running.stop().await;
}

#[tokio::test]
async fn a_suspended_group_stands_still_and_goes_on_when_resumed() {
    let script = "while read line; do echo $line; done < \"$0\"";
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("pipe");
    let made = std::process::Command::new("mkfifo")
        .arg(&pipe)
        .status()
        .unwrap();
    assert!(made.success());
    let mut words = ["sh", "-c", script].map(str::to_owned).to_vec();
    words.push(pipe.display().to_string());
    let (running, mut output) = start(&Watcher::from_command(words)).await;
    let mut to_shell = tokio::net::unix::pipe::OpenOptions::new()
        .read_write(true)
        .open_sender(&pipe)
        .unwrap();
    write(&mut to_shell, b"one\n").await;
    assert_eq!(next_line(&mut output).await, "one");
    assert!(running.suspend());
    write(&mut to_shell, b"two\n").await;
    // Nothing comes: that it would have come is seen below, as soon as it goes on.
    let silence = tokio::time::timeout(Duration::from_millis(200), output.recv()).await;
    assert!(silence.is_err(), "{silence:?}");
    assert!(running.resume());
    assert_eq!(next_line(&mut output).await, "two");
    running.stop().await;
}

async fn write(pipe: &mut tokio::net::unix::pipe::Sender, bytes: &[u8]) {
    use tokio::io::AsyncWriteExt as _;
    pipe.write_all(bytes).await.unwrap();
}

#[tokio::test]
async fn a_suspended_watcher_can_still_end_by_itself_when_asked_to() {
    let script = "trap 'echo bye; exit 0' TERM; echo up; while :; do sleep 0.05; done";
    let (running, mut output) = start(&shell(script)).await;
    assert_eq!(next_line(&mut output).await, "up");
    assert!(running.suspend());
    running.stop().await;
    // The shell may have a word to say about its child, which was asked to end, too.
    let mut said = Vec::new();
    let end = loop {
        match next(&mut output).await {
            Output::Exited(how) => break how,
            other => said.push(other),
        }
    };
    assert_eq!(end, "exit status: 0");
    let bye = Output::Line {
        on_stderr: false,
        text: "bye".to_owned(),
    };
    assert!(said.contains(&bye), "{said:?}");
}

#[tokio::test]
async fn one_that_does_not_end_is_killed_with_its_children() {
    let script = "trap '' TERM; sleep 60 & echo $!; while :; do sleep 0.05; done";
    let (running, mut output) = start(&shell(script)).await;
    let child = next_line(&mut output).await;
    running.stop().await;
    let gone = tokio::time::timeout(PATIENCE, async {
        // A process that has ended and waits to be collected is gone, too.
        while is_running(&child) {
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
    });
    assert!(gone.await.is_ok());
}

fn is_running(pid: &str) -> bool {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap_or_default();
    status
        .lines()
        .any(|line| line.starts_with("State:") && !line.contains("Z (zombie)"))
}

#[tokio::test]
async fn a_task_is_a_watcher_without_a_process() {
    let watcher = Watcher::from_task(|call: Call, sink| async move {
        let seen = Sighting {
            job_name: Claim::Value(call.url),
            ..Sighting::default()
        };
        sink.send(seen);
    });
    let (running, mut output) = start(&watcher).await;
    match next(&mut output).await {
        Output::Sighting(seen) => assert_eq!(seen.job_name, Claim::Value(call().url)),
        other => panic!("{other:?}"),
    }
    let end = next(&mut output).await;
    assert_eq!(end, Output::Exited("the task returned".to_owned()));
    assert!(!running.suspend() && !running.resume());
    assert_eq!(running.resources(), None);
    running.stop().await;
}

#[tokio::test]
async fn a_task_that_is_stopped_says_nothing_more() {
    let watcher = Watcher::from_task(|_, sink| async move {
        sink.send(Sighting::default());
        std::future::pending::<()>().await;
    });
    let (running, mut output) = start(&watcher).await;
    assert!(matches!(next(&mut output).await, Output::Sighting(_)));
    running.stop().await;
    assert_eq!(output.recv().await, None);
}

#[tokio::test]
async fn what_cannot_be_started_is_told() {
    let (sink, _output) = unbounded_channel();
    let missing = Watcher::from_command(vec!["no-such-program-here".to_owned()]);
    let error = missing.start(&call(), sink.clone()).await.unwrap_err();
    assert_eq!(error.to_string(), "cannot start `no-such-program-here`");
    let text = "command = [\"sh\"]\ndirectory = \"no-such-folder\"";
    let missing = Watcher::from_file(WatcherFile::parse("w.toml", text).unwrap());
    let error = missing.start(&call(), sink).await.unwrap_err();
    assert!(matches!(error, StartError::Directory { .. }), "{error}");
}

/// A watcher whose commands are written to its input, or run beside it.
fn with_commands() -> Watcher {
    let text = r#"
command = ["sh", "-c", "while read -r line; do echo heard $line; done"]
[commands]
pause = { line = "hold" }
resume = { run = ["sh", "-c", "exit 3"] }
cancel = { run = ["no-such-program-here"] }
"#;
    Watcher::from_file(WatcherFile::parse("w.toml", text).unwrap())
}

#[tokio::test]
async fn a_command_is_a_line_on_the_watchers_input_or_a_program_beside_it() {
    let watcher = with_commands();
    assert_eq!(watcher.commands(), CommandKind::ALL);
    let (running, mut output) = start(&watcher).await;
    let give = |kind| watcher.give(kind, call_ref(), &running);
    give(CommandKind::Pause).await.unwrap();
    assert_eq!(next_line(&mut output).await, "heard hold");
    // How the program beside it ends says nothing of the watcher.
    give(CommandKind::Resume).await.unwrap();
    let missing = give(CommandKind::Cancel).await.unwrap_err();
    assert_eq!(missing.to_string(), "cannot start `no-such-program-here`");
    running.stop().await;
}

fn call_ref() -> &'static Call {
    static CALL: std::sync::LazyLock<Call> = std::sync::LazyLock::new(call);
    &CALL
}
