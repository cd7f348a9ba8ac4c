//! Arguments of `record`.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args;

use super::redact::RedactArgs;

/// Arguments of `record`.
#[derive(Debug, Args)]
pub struct RecordArgs {
    /// The host that the watcher watches, such as http://192.0.2.7.
    #[arg(long, value_name = "URL")]
    pub upstream: String,
    /// The file to write, which must not be there yet.
    #[arg(long, value_name = "FILE")]
    pub to: PathBuf,
    /// Where the watcher connects to instead. Port 0 picks a free one.
    #[arg(long, default_value = "127.0.0.1:8632", value_name = "ADDR:PORT")]
    pub listen: SocketAddr,
    /// Pass on what could change something at the host, too: methods other than GET, HEAD, OPTIONS and
    /// TRACE (RFC 9110 section 9.2.1), and WebSockets, on which a watcher can say anything.
    ///
    /// Without it they are answered with 403 by the recorder.
    #[arg(long)]
    pub allow_commands: bool,
    /// The certificate (PEM) of the authority to trust if the host is https. Without it the system's own.
    #[arg(long, value_name = "FILE")]
    pub upstream_authority: Option<PathBuf>,
    /// Speak TLS with the watcher, and write the certificate of the authority that it is to trust to
    /// this file as PEM.
    #[arg(long, value_name = "FILE")]
    pub tls: Option<PathBuf>,
    /// Of a longer body only its length is written.
    #[arg(long, value_name = "BYTES", default_value_t = 8 << 20,
          value_parser = clap::value_parser!(u32).range(1..=1 << 30))]
    pub max_body: u32,
    /// Go on in another file (FILE.2, FILE.3) once this one is longer. Each can be read by itself.
    #[arg(long, value_name = "BYTES", value_parser = clap::value_parser!(u64).range(1000..))]
    pub max_file: Option<u64>,
    /// Stop when less than this is free on the disk.
    #[arg(long, value_name = "BYTES", default_value_t = 256 << 20)]
    pub min_free: u64,
    /// Force each answer onto the disk before its end goes on, so that a power cut loses nothing either.
    /// Without it a power cut can lose the last second; a kill loses nothing in either case.
    #[arg(long)]
    pub sync: bool,
    /// What is replaced before it is written.
    #[command(flatten)]
    pub redact: RedactArgs,
}
