//! `coldbed replay`.

use std::sync::Arc;

use coldbed_mock::server::Clock;
use coldbed_mock::sim::VirtualTime;
use coldbed_session::replay::{AtEnd, Counts, Matching, Replay, ReplayOptions};

use super::own_tls::OwnTls;
use super::say::say;
use super::serve::Ending;
use super::{Failure, open_files, session_file};
use crate::cli::{ReplayArgs, ReplayEnd, ReplayMatch};
use crate::exit_code::Outcome;

pub(super) async fn replay(args: ReplayArgs) -> Result<Outcome, Failure> {
    if !args.listen.ip().is_loopback() {
        eprintln!(
            "coldbed: caution: {} is reachable from other machines, and the session can be read there without a key",
            args.listen
        );
    }
    open_files::raise_limit();
    let session = session_file::read(&args.file)?;
    let clock = Clock::paused_at(VirtualTime::new(args.from));
    clock.set_rate(args.rate).map_err(Failure::bad_input)?;
    clock.resume();
    let own_tls = OwnTls::make(args.tls.clone(), args.listen.ip())?;
    let replay = Replay::start(
        Arc::new(session),
        ReplayOptions {
            listen: args.listen,
            tls: own_tls.as_ref().map(OwnTls::acceptor),
            clock,
            matching: match args.matching {
                ReplayMatch::Time => Matching::ByTime,
                ReplayMatch::InOrder => Matching::InOrder,
            },
            at_end: match args.at_end {
                ReplayEnd::Repeat => AtEnd::Repeat,
                ReplayEnd::NotFound => AtEnd::NotFound,
            },
            observer: None,
        },
    )
    .await
    .map_err(Failure::bad_input)?;
    if let Some(tls) = &own_tls {
        tls.write_authority()?;
    }
    let mut ending = Ending::watch()?;
    say(format_args!("listening on {}\n", replay.url()));
    ending.wait().await;
    let counts = replay.counts();
    replay.stop().await;
    eprint!("{}", told(&counts));
    Ok(Outcome::Done)
}

/// Says what was played.
fn told(counts: &Counts) -> String {
    let mut text = format!("coldbed: {} requests answered", counts.served);
    if counts.after_end > 0 {
        text.push_str(&format!(
            ", {} of them after the last answer",
            counts.after_end
        ));
    }
    text.push('\n');
    for (route, count) in &counts.unknown {
        text.push_str(&format!(
            "coldbed: {count} × {route}: the session never asked for it\n"
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_played_and_what_was_not_is_said() {
        let counts = Counts {
            served: 40,
            after_end: 2,
            unknown: [("GET /camera".to_owned(), 3)].into(),
        };
        insta::assert_snapshot!(told(&counts), @r"
        coldbed: 40 requests answered, 2 of them after the last answer
        coldbed: 3 × GET /camera: the session never asked for it
        ");
    }
}
