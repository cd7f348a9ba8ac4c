//! `coldbed watch`: the reference watcher as a command.

use super::Failure;
use super::serve::Ending;
use crate::cli::WatchArgs;
use crate::exit_code::Outcome;
use crate::reference;

pub(super) async fn watch(args: WatchArgs) -> Result<Outcome, Failure> {
    let mut ending = Ending::watch()?;
    tokio::select! {
        result = reference::watch(&args.url, &args.key, args.every) => {
            result.map_err(Failure::bad_input)?;
        }
        () = ending.wait() => {}
    }
    Ok(Outcome::Done)
}
