//! Watch a filament printer through its network host: one JSON line, a sighting, per poll.
//!
//! Usage: example-watcher URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]
//!
//! AUTHORITY_FILE (PEM) is whom to trust if the URL is https. A watcher only reports what the host says. It is no fire
//! alarm and no reason to leave a hot printer alone.

use std::io::Write;
use std::ops::RangeBounds;
use std::time::{Duration, SystemTime};

use reqwest::header::{DATE, ETAG, HeaderName, HeaderValue, IF_NONE_MATCH, RETRY_AFTER};
use reqwest::{Certificate, Client, Response, StatusCode};
use rustix::time::{ClockId, clock_gettime};
use serde::Serialize;
use serde_json::{Map, Value};

type Problem = Box<dyn std::error::Error>;

const BODY_LIMIT_BYTES: usize = 1 << 20;
/// However long a host asks not to be asked, and however often it has failed: not to sleep for ever after nonsense.
const MOST_WAIT: Duration = Duration::from_secs(60);
/// Absolute zero (BIPM, The International System of Units, from memory).
const COLDEST_CELSIUS: f64 = -273.15;
/// Goes on while the machine sleeps, where there is such a clock.
#[cfg(target_os = "linux")]
const AWAKE_CLOCK: ClockId = ClockId::Boottime;
#[cfg(not(target_os = "linux"))]
const AWAKE_CLOCK: ClockId = ClockId::Monotonic;

/// What is shown after one poll. `None` is unknown, and written as `null`.
#[derive(Serialize)]
#[serde(rename_all = "kebab-case")]
struct Sighting {
    phase: &'static str,
    heaters: Map<String, Value>,
    progress_percent: Option<f64>,
    elapsed_seconds: Option<f64>,
    remaining_seconds: Option<f64>,
    job_name: Option<String>,
}

/// Shown whenever there is no usable answer: what was seen before is withdrawn, because it may no longer be true.
fn unknown() -> Sighting {
    Sighting {
        phase: "unknown",
        heaters: Map::new(),
        progress_percent: None,
        elapsed_seconds: None,
        remaining_seconds: None,
        job_name: None,
    }
}

/// What one answer says; `None` if it is no JSON object. Each value stands alone, so that one bad value does not take
/// the others with it: null, missing and wrong types all mean that it is not known.
fn sighting_in(body: &[u8]) -> Option<Sighting> {
    let answer: Value = serde_json::from_slice(body).ok()?;
    let heaters = answer.as_object()?.get("heaters").and_then(Value::as_object);
    let job = &answer["job"];
    Some(Sighting {
        phase: phase_of(&answer),
        heaters: heaters.into_iter().flatten().map(|(name, heater)| (name.clone(), heater_of(heater))).collect(),
        progress_percent: job["progress-percent"].as_f64().filter(within(0.0..=100.0)),
        elapsed_seconds: job["elapsed-seconds"].as_f64().filter(within(0.0..)),
        remaining_seconds: job["remaining-seconds"].as_f64().filter(within(0.0..)),
        job_name: job["job-name"].as_str().map(str::to_owned),
    })
}

/// A number that can be; another one is a mistake or of another unit, and so not known.
fn within(range: impl RangeBounds<f64>) -> impl Fn(&f64) -> bool {
    move |number| range.contains(number)
}

/// One heater's part of the sighting. On or off is what the host wants, so it follows from the target alone.
fn heater_of(heater: &Value) -> Value {
    let actual = heater["actual-celsius"].as_f64().filter(within(COLDEST_CELSIUS..));
    let target = heater["target-celsius"].as_f64();
    let on = target.map(|target| target > 0.0);
    serde_json::json!({"actual-celsius": actual, "target-celsius": target, "on": on})
}

/// The printer's phase in the words that a person uses. Job states: RFC 8011 s5.3.7.
fn phase_of(answer: &Value) -> &'static str {
    let heating = heating(answer);
    // Missing is not the same as null.
    if answer.get("job") == Some(&Value::Null) {
        return match (answer["printer-state"].as_str(), heating) {
            (Some("stopped"), _) => "error",
            (_, None) => "unknown",
            (_, Some(true)) => "heating",
            (Some("idle" | "processing"), Some(false)) => "idle",
            _ => "unknown",
        };
    }
    match (answer["job"]["job-state"].as_str(), heating) {
        (Some("processing"), Some(true)) => "heating",
        (Some("processing"), Some(false)) => "printing",
        (Some("pending" | "pending-held"), _) => "idle",
        (Some("processing-stopped"), _) => "paused",
        (Some("canceled"), _) => "cancelled",
        (Some("aborted"), _) => "error",
        (Some("completed"), _) => "finished",
        _ => "unknown",
    }
}

/// Whether some heater is on its way to its target; `None` if the reasons cannot be read.
fn heating(answer: &Value) -> Option<bool> {
    let reasons = answer["printer-state-reasons"].as_array()?.iter().map(Value::as_str);
    let reasons = reasons.collect::<Option<Vec<&str>>>()?;
    Some(reasons.iter().any(|reason| reason.ends_with("-heating-report")))
}

/// The printer's host: a client with a kept connection, and the last good body with its tag.
struct Host {
    target: String,
    key: String,
    timeout: Duration,
    authority: Option<Certificate>,
    client: Client,
    has_kept_connection: bool,
    kept: Option<(HeaderValue, Vec<u8>)>,
}

impl Host {
    fn new(url: &str, key: &str, timeout: Duration, authority_file: Option<&str>) -> Result<Self, Problem> {
        let pem = authority_file.map(std::fs::read).transpose()?;
        let authority = pem.map(|pem| Certificate::from_pem(&pem)).transpose()?;
        let client = client(timeout, authority.as_ref())?;
        let target = format!("{}/printer", url.trim_end_matches('/'));
        Ok(Self { target, key: key.to_owned(), timeout, authority, client, has_kept_connection: false, kept: None })
    }

    /// Starts anew: what may still come on the connection answers no later question.
    fn forget(&mut self) -> Result<(), Problem> {
        self.client = client(self.timeout, self.authority.as_ref())?;
        self.has_kept_connection = false;
        self.kept = None;
        Ok(())
    }

    /// Asks once. Gives the body of a whole 200, or the kept one after a 304, which says that it is true now.
    async fn ask(&mut self) -> Result<Vec<u8>, Failure> {
        let mut answer = match self.send().await {
            // Closed while we asked: a question that changes nothing is asked once more (RFC 9112 s9.3.1).
            Err(problem) if self.has_kept_connection && !problem.is_timeout() => self.send().await?,
            answer => answer?,
        };
        self.has_kept_connection = true;
        match (answer.status(), &self.kept) {
            (StatusCode::NOT_MODIFIED, Some((_, body))) => return Ok(body.clone()),
            (StatusCode::OK, _) => {}
            (status, _) => return Err(Failure(format!("status {status}"), retry_after(&answer))),
        }
        let mut body = Vec::new();
        // An error here is a body that ends early (RFC 9112 s8).
        while let Some(chunk) = answer.chunk().await? {
            body.extend_from_slice(&chunk);
            if body.len() > BODY_LIMIT_BYTES {
                return Err(Failure("body too long".to_owned(), Duration::ZERO));
            }
        }
        self.kept = answer.headers().get(ETAG).map(|tag| (tag.clone(), body.clone()));
        Ok(body)
    }

    async fn send(&self) -> reqwest::Result<Response> {
        let mut request = self.client.get(&self.target).bearer_auth(&self.key);
        if let Some((tag, _)) = &self.kept {
            request = request.header(IF_NONE_MATCH, tag); // spares the host a body that we have (RFC 9110 s13.1.2)
        }
        request.send().await
    }
}

fn client(timeout: Duration, authority: Option<&Certificate>) -> reqwest::Result<Client> {
    let client = Client::builder()
        .user_agent("example-watcher-rust/2")
        .timeout(timeout) // for the whole exchange, the body included
        .no_proxy() // the printer is on the local network
        .redirect(reqwest::redirect::Policy::none()); // following one could hand the key to another host
    match authority {
        Some(authority) => client.add_root_certificate(authority.clone()).build(),
        None => client.build(),
    }
}

/// Why there is no usable answer, and how long the host asks to be left alone.
struct Failure(String, Duration);

impl From<reqwest::Error> for Failure {
    fn from(problem: reqwest::Error) -> Self {
        // The cause behind it tells more, and without the URL.
        let mut cause: &dyn std::error::Error = &problem;
        while let Some(deeper) = cause.source() {
            cause = deeper;
        }
        Self(cause.to_string(), Duration::ZERO)
    }
}

/// How long a host that is busy asks to be left alone (RFC 9110 s10.2.3); zero for nothing and for nonsense.
fn retry_after(answer: &Response) -> Duration {
    let field = |name: HeaderName| answer.headers().get(name).and_then(|value| value.to_str().ok()).unwrap_or("");
    // Reads all three forms of RFC 9110 s5.6.7.
    let date = |name| httpdate::parse_http_date(field(name)).ok();
    let busy = matches!(answer.status(), StatusCode::TOO_MANY_REQUESTS | StatusCode::SERVICE_UNAVAILABLE);
    let wait = match field(RETRY_AFTER).parse() {
        _ if !busy => None,
        Ok(seconds) => Some(Duration::from_secs(seconds)),
        // Held against the host's own clock if it has one, because ours may differ.
        Err(_) => {
            date(RETRY_AFTER).and_then(|until| until.duration_since(date(DATE).unwrap_or(SystemTime::now())).ok())
        }
    };
    wait.unwrap_or_default().min(MOST_WAIT)
}

/// The wait after so many failures in a row: doubled each time, and not the same for all who lost the host at once.
fn back_off(failures: u32, interval: Duration) -> Duration {
    let most = interval.max(MOST_WAIT.min(8 * interval));
    (interval * 2_u32.pow(failures.min(4))).min(most).mul_f64(0.5 + fastrand::f64() / 2.0)
}

fn awake() -> Duration {
    Duration::try_from(clock_gettime(AWAKE_CLOCK)).unwrap_or_default()
}

async fn watch(url: &str, key: &str, interval: Duration, authority_file: Option<&str>) -> Result<(), Problem> {
    let timeout = interval.max(Duration::from_secs(2));
    let mut host = Host::new(url, key, timeout, authority_file)?;
    let mut failures = 0;
    loop {
        let asked = awake();
        let body = host.ask().await;
        let none = || Failure("not a JSON object".to_owned(), Duration::ZERO);
        let found = body.and_then(|body| sighting_in(&body).ok_or_else(none));
        if found.is_ok() && awake() - asked > timeout {
            host.forget()?; // we slept while we asked: what was read is old, so ask again at once
            continue;
        }
        let (sighting, wait) = match found {
            Ok(sighting) => {
                failures = 0;
                (sighting, None)
            }
            Err(Failure(reason, retry_after)) => {
                eprintln!("no usable answer: {reason}");
                failures += 1;
                host.forget()?;
                (unknown(), Some(back_off(failures, interval).max(retry_after.mul_f64(1.0 + fastrand::f64() / 10.0))))
            }
        };
        let line = serde_json::to_string(&sighting)?;
        writeln!(std::io::stdout(), "{line}")?;
        // To the next multiple of the interval: a slow answer must not change the rhythm.
        let to_next = interval.mul_f64(1.0 - (awake() - asked).as_secs_f64() / interval.as_secs_f64() % 1.0);
        tokio::time::sleep(wait.unwrap_or(to_next)).await;
    }
}

#[tokio::main(flavor = "current_thread")]
async fn main() {
    let words: Vec<String> = std::env::args().collect();
    let seconds = words.get(3).map_or(Ok(1.0), |word| word.parse::<f64>()).unwrap_or(0.0);
    if words.len() < 3 || !(seconds > 0.0 && seconds <= 3600.0) {
        eprintln!("usage: example-watcher URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]");
        std::process::exit(2);
    }
    let _ = rustls::crypto::ring::default_provider().install_default();
    let authority_file = words.get(4).map(String::as_str).filter(|file| !file.is_empty());
    if let Err(problem) = watch(&words[1], &words[2], Duration::from_secs_f64(seconds), authority_file).await {
        eprintln!("cannot watch: {problem}");
        std::process::exit(1);
    }
}
