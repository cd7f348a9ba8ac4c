//! `coldbed record`.

use std::path::Path;

use coldbed_session::record::{Counts, Limits, RecordError, RecordOptions, Recorder, Upstream};
use coldbed_session::redact::Redactor;
use jiff::Timestamp;
use rustls::RootCertStore;
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;

use super::own_tls::OwnTls;
use super::say::say;
use super::serve::Ending;
use super::{Failure, open_files, session_file};
use crate::cli::RecordArgs;
use crate::exit_code::Outcome;

pub(super) async fn record(args: RecordArgs) -> Result<Outcome, Failure> {
    if !args.listen.ip().is_loopback() {
        eprintln!(
            "coldbed: caution: {} is reachable from other machines, and through it the printer's host",
            args.listen
        );
    }
    open_files::raise_limit();
    let own_tls = OwnTls::make(args.tls.clone(), args.listen.ip())?;
    let rules = session_file::rules(&args.redact)?;
    let told_rules = rules.told();
    let mut redactor = Redactor::new(rules);
    let recorder = Recorder::start(RecordOptions {
        listen: args.listen,
        upstream: upstream(&args)?,
        file: args.to.clone(),
        recorded_at: Some(
            Timestamp::now()
                .round(jiff::Unit::Second)
                .unwrap_or_default()
                .to_string(),
        ),
        filter: Some((told_rules, Box::new(move |line| redactor.replace(line)))),
        allows_commands: args.allow_commands,
        tls: own_tls.as_ref().map(OwnTls::acceptor),
        limits: Limits {
            max_body_bytes: usize::try_from(args.max_body).unwrap_or(usize::MAX),
            max_file_bytes: args.max_file,
            min_free_bytes: args.min_free,
            syncs_each_answer: args.sync,
            ..Limits::default()
        },
    })
    .await
    .map_err(refusal)?;
    if let Some(tls) = &own_tls {
        tls.write_authority()?;
    }
    let mut ending = Ending::watch()?;
    say(format_args!("listening on {}\n", recorder.url()));
    tokio::select! {
        () = ending.wait() => {}
        () = recorder.failed() => {}
    }
    let counts = recorder
        .stop()
        .await
        .map_err(|error| Failure::new(Outcome::OwnFault, error))?;
    eprintln!("coldbed: {}", told(&counts, &args.to));
    Ok(Outcome::Done)
}

/// What is to be put right on the command line.
fn refusal(error: RecordError) -> Failure {
    match &error {
        RecordError::File { source, .. } if source.kind() == std::io::ErrorKind::AlreadyExists => {
            Failure::bad_input(format!("{error}: it is there already [name another file]"))
        }
        _ => Failure::bad_input(error),
    }
}

fn upstream(args: &RecordArgs) -> Result<Upstream, Failure> {
    let upstream = Upstream::parse(&args.upstream)
        .map_err(|error| Failure::bad_input(format!("--upstream: {error}")))?;
    match (&args.upstream_authority, upstream.is_https()) {
        (None, false) => Ok(upstream),
        (Some(_), false) => Err(Failure::bad_input(
            "--upstream-authority is of use for an https host only [leave it out]",
        )),
        (Some(file), true) => Ok(upstream.trusting(authority(file)?)),
        (None, true) => {
            let mut roots = RootCertStore::empty();
            let found = rustls_native_certs::load_native_certs();
            let (added, _) = roots.add_parsable_certificates(found.certs);
            if added == 0 {
                return Err(Failure::bad_input(
                    "the system trusts no authority [name one with --upstream-authority FILE]",
                ));
            }
            Ok(upstream.trusting(roots))
        }
    }
}

fn authority(file: &Path) -> Result<RootCertStore, Failure> {
    let cannot = |why: String| {
        Failure::bad_input(format!("--upstream-authority: `{}`: {why}", file.display()))
    };
    let text = std::fs::read(file).map_err(|error| cannot(error.to_string()))?;
    let mut roots = RootCertStore::empty();
    for certificate in CertificateDer::pem_slice_iter(&text) {
        let certificate = certificate.map_err(|error| cannot(error.to_string()))?;
        roots
            .add(certificate)
            .map_err(|error| cannot(error.to_string()))?;
    }
    if roots.is_empty() {
        return Err(cannot(
            "there is no certificate in it (PEM, RFC 7468)".to_owned(),
        ));
    }
    Ok(roots)
}

/// Says what was recorded.
fn told(counts: &Counts, file: &Path) -> String {
    let files = match counts.files {
        1 => format!("`{}`", file.display()),
        files => format!("{files} files, the first `{}`", file.display()),
    };
    let not_passed_on = match counts.not_passed_on {
        0 => String::new(),
        count => format!(", {count} not passed on"),
    };
    format!(
        "{} exchanges on {} connections{not_passed_on}, {} answered whole, {} bytes in {files}",
        counts.exchanges, counts.connections, counts.whole, counts.bytes
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_recorded_is_said_in_one_line() {
        let counts = Counts {
            connections: 3,
            exchanges: 40,
            whole: 37,
            not_passed_on: 2,
            bytes: 9000,
            files: 2,
        };
        insta::assert_snapshot!(told(&counts, Path::new("night.jsonl")), @"40 exchanges on 3 connections, 2 not passed on, 37 answered whole, 9000 bytes in 2 files, the first `night.jsonl`");
    }
}
