//! Asking the printer's host.

use std::time::Duration;

use reqwest::header::{ETAG, HeaderValue, IF_NONE_MATCH};
use reqwest::{Certificate, Client, Response, StatusCode};

use super::clock::Clock;
use super::pace;
use super::sighting::Sighting;

/// More than any printer's state needs, and little enough for any memory.
const BODY_LIMIT: usize = 1 << 20;

/// Is the host: a client with a kept connection, and the last good body with its tag.
#[derive(Debug)]
pub(super) struct Host {
    target: String,
    key: String,
    time_out: Duration,
    authority: Option<Certificate>,
    client: Client,
    has_kept_connection: bool,
    kept: Option<(HeaderValue, Vec<u8>)>,
    every: Duration,
    clock: Clock,
}

impl Host {
    /// Prepares to ask. Nothing is sent yet.
    pub(super) fn new(
        url: &str,
        key: &str,
        every: Duration,
        time_out: Duration,
        authority: Option<&[u8]>,
    ) -> Result<Self, reqwest::Error> {
        let authority = authority.map(Certificate::from_pem).transpose()?;
        Ok(Self {
            target: format!("{}/printer", url.trim_end_matches('/')),
            key: key.to_owned(),
            time_out,
            client: client(time_out, authority.as_ref())?,
            authority,
            has_kept_connection: false,
            kept: None,
            every,
            clock: Clock::default(),
        })
    }

    /// Starts anew: what may still come on the connection answers no later question.
    pub(super) fn forget(&mut self) -> Result<(), reqwest::Error> {
        self.client = client(self.time_out, self.authority.as_ref())?;
        self.has_kept_connection = false;
        self.kept = None;
        Ok(())
    }

    /// Asks once and gives what a whole, good answer says, unless the host's own clock tells that it
    /// is an old one.
    pub(super) async fn ask(&mut self) -> Result<Sighting, Failure> {
        let sighting = self.sighting().await;
        let Ok(seen) = &sighting else {
            // Who was away may have restarted.
            self.clock = Clock::default();
            return sighting;
        };
        match self
            .clock
            .is_old(seen.up_time_seconds, pace::awake(), self.every)
        {
            true => Err(Failure::Old),
            false => sighting,
        }
    }

    async fn sighting(&mut self) -> Result<Sighting, Failure> {
        let answer = tokio::time::timeout(self.time_out, self.answer());
        let answer = answer.await.map_err(|_| Failure::TimeOut)??;
        self.has_kept_connection = true;
        match answer.status() {
            // The last good body is true now.
            StatusCode::NOT_MODIFIED if self.kept.is_some() => {}
            StatusCode::OK => {
                let tag = answer.headers().get(ETAG).cloned();
                let body = whole_body(answer).await?;
                let sighting = Sighting::from_body(&body).ok_or(Failure::NotAnObject);
                self.kept = tag.map(|tag| (tag, body));
                return sighting;
            }
            status => {
                let after = pace::retry_after(status, answer.headers(), pace::wall_clock());
                return Err(Failure::Status(status, after));
            }
        }
        let kept = self.kept.as_ref();
        kept.and_then(|(_, body)| Sighting::from_body(body))
            .ok_or(Failure::NotAnObject)
    }

    /// Sends the question, on the kept connection if there is one, and reads the answer's head.
    async fn answer(&self) -> reqwest::Result<Response> {
        match self.send().await {
            // Closed while we asked: a question that changes nothing is asked once more (RFC 9112
            // section 9.3.1). The client has dropped that connection.
            Err(problem) if self.has_kept_connection && !problem.is_timeout() => self.send().await,
            answer => answer,
        }
    }

    async fn send(&self) -> reqwest::Result<Response> {
        // The key goes into a header field, never into the URL: URLs end up in logs.
        let mut request = self.client.get(&self.target).bearer_auth(&self.key);
        if let Some((tag, _)) = &self.kept {
            // Spares the host a body that we have (RFC 9110 section 13.1.2).
            request = request.header(IF_NONE_MATCH, tag);
        }
        request.send().await
    }
}

fn client(time_out: Duration, authority: Option<&Certificate>) -> Result<Client, reqwest::Error> {
    let client = Client::builder()
        .user_agent(concat!(
            "coldbed-reference-watcher/",
            env!("CARGO_PKG_VERSION")
        ))
        // For the whole exchange, the body included.
        .timeout(time_out)
        // The printer is in the local network: a proxy named in the environment is not asked.
        .no_proxy()
        // A redirect may lead anywhere, and the key must not go there.
        .redirect(reqwest::redirect::Policy::none());
    match authority {
        Some(authority) => client.add_root_certificate(authority.clone()),
        None => client,
    }
    .build()
}

async fn whole_body(mut answer: Response) -> Result<Vec<u8>, Failure> {
    let mut body = Vec::new();
    // An error here is a body cut short: half an answer is none.
    while let Some(chunk) = answer.chunk().await? {
        if body.len() + chunk.len() > BODY_LIMIT {
            return Err(Failure::TooLarge);
        }
        body.extend_from_slice(&chunk);
    }
    Ok(body)
}

/// Says why there is no usable answer. Never quotes the key.
#[derive(Debug, thiserror::Error)]
pub(super) enum Failure {
    #[error("{}", root_cause(.0))]
    Transport(#[from] reqwest::Error),
    #[error("nothing within the time allowed")]
    TimeOut,
    #[error("status {0}")]
    Status(StatusCode, Duration),
    #[error("body over {BODY_LIMIT} bytes")]
    TooLarge,
    #[error("not a JSON object")]
    NotAnObject,
    #[error("an old answer, by the host's own clock")]
    Old,
}

impl Failure {
    /// Gives how long the host asked to be left alone.
    pub(super) fn retry_after(&self) -> Duration {
        match self {
            Self::Status(_, retry_after) => *retry_after,
            _ => Duration::ZERO,
        }
    }
}

/// Says what went wrong on the way, down to the cause: `connection refused` tells more than
/// `error sending request`, and names no URL.
fn root_cause(error: &reqwest::Error) -> String {
    let mut cause: &dyn std::error::Error = error;
    while let Some(deeper) = cause.source() {
        cause = deeper;
    }
    cause.to_string()
}
