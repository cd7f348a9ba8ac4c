//! What a recorder is told.

use std::fmt;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use rustls::RootCertStore;

use crate::format::Line;
use crate::stream::Tls;

/// Changes a line before it is written.
pub type Filter = Box<dyn FnMut(Line) -> Line + Send>;

/// Says what to record and where to.
pub struct RecordOptions {
    /// Where the watcher connects to.
    pub listen: SocketAddr,
    /// The host.
    pub upstream: Upstream,
    /// The file, which must not be there yet.
    pub file: PathBuf,
    /// When the recording began, as RFC 3339 says it.
    pub recorded_at: Option<String>,
    /// What is replaced in every line, in words, and what replaces it.
    pub filter: Option<(Vec<String>, Filter)>,
    /// Whether requests go on that could change something (RFC 9110 section 9.2.1).
    pub allows_commands: bool,
    /// Speaks TLS with the watcher.
    pub tls: Option<Tls>,
    /// What is too much.
    pub limits: Limits,
}

impl fmt::Debug for RecordOptions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("RecordOptions")
            .field("listen", &self.listen)
            .field("upstream", &self.upstream)
            .field("file", &self.file)
            .finish_non_exhaustive()
    }
}

/// Says what is too much.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Of a longer body only its length is written, in bytes.
    pub max_body_bytes: usize,
    /// A file that is longer is followed by another one, in bytes.
    pub max_file_bytes: Option<u64>,
    /// With less free space the recording stops, in bytes.
    pub min_free_bytes: u64,
    /// Whether each answer is forced onto the disk before its end goes on; else within a second.
    pub syncs_each_answer: bool,
    /// How long a connection to the host may take to be made.
    pub connect_timeout: Duration,
}

impl Default for Limits {
    /// Chosen: status bodies have kilobytes and pictures megabytes; a quarter of a gigabyte lets the
    /// machine go on; ten seconds are what people wait for a connection.
    fn default() -> Self {
        Self {
            max_body_bytes: 8 << 20,
            max_file_bytes: None,
            min_free_bytes: 256 << 20,
            syncs_each_answer: false,
            connect_timeout: Duration::from_secs(10),
        }
    }
}

/// Is the host's origin (RFC 6454 section 4): scheme, name and port.
#[derive(Debug, Clone)]
pub struct Upstream {
    pub(super) https: bool,
    pub(super) host: String,
    pub(super) port: u16,
    /// What is trusted if it is https.
    pub(super) roots: Option<Arc<RootCertStore>>,
}

impl Upstream {
    /// Reads an origin such as `http://printer.home.arpa:8080`.
    ///
    /// # Errors
    /// In words: it is no origin, or has more than one.
    pub fn parse(text: &str) -> Result<Self, String> {
        let wrong = |what: &str| format!("`{text}` {what} [http://HOST:PORT]");
        let uri: http::Uri = text.parse().map_err(|_| wrong("is no URL"))?;
        let https = match uri.scheme_str() {
            Some("http") => false,
            Some("https") => true,
            _ => return Err(wrong("is neither http nor https")),
        };
        let authority = uri.authority().ok_or_else(|| wrong("names no host"))?;
        if authority.as_str().contains('@') {
            return Err(
                "the URL holds a password; the watcher sends its own [leave it out]".to_owned(),
            );
        }
        if !matches!(uri.path(), "" | "/") || uri.query().is_some() {
            return Err(wrong("has a path; paths are the watcher's to ask for"));
        }
        let port = authority.port_u16().unwrap_or(if https { 443 } else { 80 });
        Ok(Self {
            https,
            host: authority.host().to_owned(),
            port,
            roots: None,
        })
    }

    /// Tells whether it is encrypted.
    pub fn is_https(&self) -> bool {
        self.https
    }

    /// Says which authorities are trusted if it is https; without this nobody is.
    #[must_use]
    pub fn trusting(self, roots: RootCertStore) -> Self {
        Self {
            roots: Some(Arc::new(roots)),
            ..self
        }
    }

    /// Gives the value of `Host` (RFC 9110 section 7.2).
    pub(super) fn authority(&self) -> String {
        match (self.https, self.port) {
            (false, 80) | (true, 443) => self.host.clone(),
            (_, port) => format!("{}:{port}", self.host),
        }
    }
}

impl fmt::Display for Upstream {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let scheme = if self.https { "https" } else { "http" };
        write!(f, "{scheme}://{}", self.authority())
    }
}

/// Says why nothing is recorded.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// The file cannot be made, or is there already.
    #[error("cannot begin `{}`", file.display())]
    File {
        /// The file.
        file: PathBuf,
        /// What the system says.
        #[source]
        source: std::io::Error,
    },
    /// The address cannot be listened on.
    #[error("cannot listen on {address}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the system says.
        #[source]
        source: std::io::Error,
    },
    /// The file cannot be gone on with.
    #[error("the recording stopped: {0}")]
    Stopped(String),
}
