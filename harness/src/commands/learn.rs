//! `coldbed learn`.

use coldbed_learn::host::RouteGuess;
use coldbed_learn::propose::{NominalWatts, Proposal, printer, propose};
use coldbed_learn::thermal::{self, HeaterFit};
use coldbed_mock::dialect::DialectFile;
use indexmap::IndexMap;

use super::say::say;
use super::{Failure, session_file};
use crate::cli::LearnArgs;
use crate::exit_code::Outcome;

pub(super) fn learn(args: &LearnArgs) -> Result<Outcome, Failure> {
    let session = session_file::read(&args.file)?;
    let proposal = propose(&session);
    if proposal.routes.is_empty() {
        return Err(Failure::bad_input(format!(
            "`{}` has no whole answer to GET with JSON, so there is nothing to learn from",
            args.file.display()
        )));
    }
    // What is written can be served: a proposal that is no dialect is our own fault.
    let name = args.to.display().to_string();
    DialectFile::parse(&name, &proposal.dialect)
        .map_err(|error| Failure::new(Outcome::OwnFault, error))?;
    session_file::write_text(&proposal.dialect, &args.to)?;
    say(table(&proposal));
    say(format_args!(
        "{} questions are in `{name}`: lines with `# ?`\n",
        proposal.questions
    ));
    if let Some(file) = &args.printer {
        let fits = fits(&proposal.routes);
        if fits.is_empty() {
            return Err(Failure::bad_input(
                "--printer: no heater was found in the session [does a target change in it?]",
            ));
        }
        let watts = NominalWatts {
            extruder: args.extruder_watts,
            platform: args.platform_watts,
        };
        let text = printer(fits.iter().map(|(name, fit)| (name.as_str(), fit)), watts);
        session_file::write_text(&text, file)?;
        say(format_args!(
            "{} heaters are in `{}`\n",
            fits.len(),
            file.display()
        ));
    }
    Ok(Outcome::Done)
}

/// Fits each heater by the route that has most readings of it.
fn fits(routes: &[RouteGuess]) -> IndexMap<String, HeaterFit> {
    let mut most: IndexMap<&String, &Vec<thermal::Reading>> = IndexMap::new();
    for (name, readings) in routes.iter().flat_map(|route| &route.readings) {
        let known = most.entry(name).or_insert(readings);
        if readings.len() > known.len() {
            *known = readings;
        }
    }
    most.into_iter()
        .map(|(name, readings)| (name.clone(), thermal::fit(readings)))
        .collect()
}

/// Says of each route how much of it is known.
fn table(proposal: &Proposal) -> String {
    let mut text = String::new();
    for route in &proposal.routes {
        let sure = route.leaves.iter().filter(|leaf| leaf.is_sure()).count();
        let constant = route
            .leaves
            .iter()
            .filter(|leaf| leaf.guess.is_none() && leaf.is_constant);
        text.push_str(&format!(
            "GET {}: {} answers; {sure} of {} members known, {} constant\n",
            route.path,
            route.answers,
            route.leaves.len(),
            constant.count()
        ));
    }
    text
}
