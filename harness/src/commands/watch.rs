//! `coldbed watch`: the reference watcher as a command.

use std::path::Path;

use super::Failure;
use super::serve::Ending;
use crate::cli::WatchArgs;
use crate::exit_code::Outcome;
use crate::reference;

pub(super) async fn watch(args: WatchArgs) -> Result<Outcome, Failure> {
    let mut ending = Ending::watch()?;
    let authority = args
        .authority
        .as_deref()
        .filter(|file| !file.as_os_str().is_empty());
    let authority = authority.map(read).transpose()?;
    tokio::select! {
        result = reference::watch(&args.url, &args.key, args.every, authority.as_deref()) => {
            result.map_err(Failure::bad_input)?;
        }
        () = ending.wait() => {}
    }
    Ok(Outcome::Done)
}

fn read(file: &Path) -> Result<Vec<u8>, Failure> {
    std::fs::read(file).map_err(|source| {
        let file = file.display();
        Failure::bad_input(format!(
            "cannot read the authority's certificate `{file}`: {source} [`serve --tls` writes one]"
        ))
    })
}
