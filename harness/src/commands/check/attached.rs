//! A device that polls by itself: where it finds the mock, and what is to be done with it.

use crate::cli::WatcherArgs;
use crate::commands::Failure;
use crate::run::{Attach, Setting};

/// The key on loopback when none is named.
const KEY: &str = "bench-key";

/// Gives where an attached device finds the mock; `None` where none is attached.
pub(super) fn attach(args: &WatcherArgs) -> Result<Option<Attach>, Failure> {
    if !args.attach {
        return Ok(None);
    }
    if args.key.is_none() && !args.listen.ip().is_loopback() {
        return Err(Failure::bad_input(format!(
            "{} is reachable from other machines, and there is no key [give --key]",
            args.listen
        )));
    }
    if args.listen.port() == 0 {
        return Err(Failure::bad_input(
            "a device needs a port that stays [such as --listen 127.0.0.1:8631]",
        ));
    }
    if !args.listen.ip().is_loopback() {
        eprintln!(
            "coldbed: caution: {} is reachable from other machines; the key crosses the network \
             unencrypted",
            args.listen
        );
    }
    Ok(Some(Attach {
        listen: args.listen,
        key: args.key.clone().unwrap_or_else(|| KEY.to_owned()),
        patience: args.patience,
    }))
}

/// Says what is to be done, in order.
pub(super) fn instructions(setting: &Setting, attach: &Attach, checks: usize) -> String {
    let address = match attach.listen.ip().is_unspecified() {
        true => format!("http://THIS-MACHINE:{}", attach.listen.port()),
        false => format!("http://{}", attach.listen),
    };
    let patience = attach.patience.as_secs();
    format!(
        "1. Tell the device its host: {address}, dialect {}, key {}.\n\
         2. Switch it on. Its first request is waited for, up to {patience} s.\n\
         3. Leave it alone. {checks} checks follow one after the other; between two of them its host is \
         gone for a moment.\n\
         4. When the summary is here, tell the device its own host again.\n\
         A mock proves nothing about a real printer: no hot printer is to be left alone for it.\n\n",
        setting.dialect_name, attach.key
    )
}
