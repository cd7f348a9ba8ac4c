//! One quantity: what is claimed of it against what a session's answers say of it.

use std::time::Duration;

use coldbed_mock::dialect::{Reading, Told};

use super::{Hears, Verdict};
use crate::recorded::Heard;
use crate::watcher::{Claim, Sighting};

/// Is one quantity to be judged. `C` is what is claimed, `V` what is told.
pub(super) struct Subject<'s, C, V> {
    pub(super) name: String,
    pub(super) claimed: &'s dyn Fn(&Sighting) -> Claim<C>,
    pub(super) told: &'s dyn Fn(&Heard) -> Option<Told<V>>,
    /// Whether a claim agrees with what was told, each with its slack.
    pub(super) agree: &'s Agree<C, V>,
    pub(super) show_claim: &'s dyn Fn(&C) -> String,
    pub(super) show_told: &'s dyn Fn(&(V, f64)) -> String,
}

/// Tells whether a claim agrees with values that were told, each with its slack.
type Agree<C, V> = dyn Fn(&C, &[(V, f64)]) -> bool;

/// So many answers with a value in a row, and the watcher saying all along that it does not know, are
/// no hiccup any more (own choice, as in the catalogue).
const UNKNOWN_FOR: usize = 4;

/// Is an answer that says something of the quantity.
struct Answer<V> {
    at: Duration,
    recorded: u64,
    told: Told<V>,
    /// Whether a watcher must know what it says. Once the session is over its last answer comes again and
    /// again, and a good watcher takes that for a host that has stopped.
    obliges: bool,
}

impl<C, V: Clone> Subject<'_, C, V> {
    pub(super) fn verify(&self, hears: &Hears<'_>) -> Verdict {
        let not_judged = |reason: String| Verdict::NotJudged { reason };
        let answers = self.answers(hears);
        if answers.is_empty() {
            return not_judged(format!("no answer says anything of {}", self.name));
        }
        let mut sightings = hears.sightings.iter();
        if !sightings.any(|(_, sighting)| (self.claimed)(sighting).is_reported()) {
            return not_judged(format!("the watcher does not report {}", self.name));
        }
        let mut judged = 0_usize;
        for at in hears.moments() {
            let recent = hears.recent(&answers, |answer| answer.at, at);
            let (Some(sighting), false) = (hears.standing(at), recent.is_empty()) else {
                continue;
            };
            match (self.claimed)(sighting) {
                Claim::Value(claimed) => match self.verify_value(&claimed, recent) {
                    Ok(is_judged) => judged += usize::from(is_judged),
                    Err(allowed) => {
                        let claimed = (self.show_claim)(&claimed);
                        return self.violated(at, &allowed, &claimed, recent);
                    }
                },
                Claim::Unknown | Claim::NotReported => {
                    if let Some(allowed) = self.known_all_along(hears, &answers, at) {
                        return self.violated(at, &allowed, "unknown", recent);
                    }
                    let is_unknown = |answer: &Answer<V>| matches!(answer.told, Told::Unknown);
                    judged += usize::from(recent.iter().any(is_unknown));
                }
            }
        }
        match judged {
            0 => not_judged(format!(
                "nothing was claimed of {} that can be judged",
                self.name
            )),
            _ => Verdict::Held {
                note: format!("{judged} claims of {}", self.name),
            },
        }
    }

    fn answers(&self, hears: &Hears<'_>) -> Vec<Answer<V>> {
        let mut again = 0;
        let mut before = None;
        let told = hears.heard.iter().filter_map(|(at, heard)| {
            again = match before.replace(heard.recorded) {
                Some(last) if last == heard.recorded => again + 1,
                _ => 0,
            };
            // What the user wants said of one exchange is to be said, however short the session is.
            let is_expected = heard.expected != Reading::default();
            Some(Answer {
                at: *at,
                recorded: heard.recorded,
                told: (self.told)(heard)?,
                obliges: again == 0 || (is_expected && again < UNKNOWN_FOR),
            })
        });
        told.collect()
    }

    /// Says whether a claim of a value was judged, and was right; else what would have been.
    fn verify_value(&self, claimed: &C, recent: &[Answer<V>]) -> Result<bool, String> {
        // What the dialect cannot read a watcher may still be able to.
        let is_unreadable = |answer: &Answer<V>| matches!(answer.told, Told::Unreadable(_));
        let values = values(recent);
        if (self.agree)(claimed, &values) {
            return Ok(true);
        }
        match values.is_empty() {
            _ if recent.iter().any(is_unreadable) => Ok(false),
            true => Err("unknown".to_owned()),
            false => Err(self.list(&values)),
        }
    }

    /// Gives what was told all along while the watcher did not know it.
    fn known_all_along(
        &self,
        hears: &Hears<'_>,
        answers: &[Answer<V>],
        at: Duration,
    ) -> Option<String> {
        let until = answers.partition_point(|answer| answer.at <= at);
        let recent = &answers[until.checked_sub(UNKNOWN_FOR)?..until];
        let known = values(recent);
        let since = recent[0].at;
        let is_value = |sighting: &Sighting| matches!((self.claimed)(sighting), Claim::Value(_));
        let said = hears
            .sightings
            .iter()
            .any(|(made, sighting)| *made >= since && *made <= at && is_value(sighting));
        let is_calm = hears.is_calm(since, at);
        let is_owed = known.len() == UNKNOWN_FOR && recent.iter().all(|answer| answer.obliges);
        (is_owed && is_calm && !said).then(|| self.list(&known))
    }

    fn list(&self, values: &[(V, f64)]) -> String {
        let mut shown: Vec<String> = values.iter().map(self.show_told).collect();
        shown.dedup();
        shown.join(" or ")
    }

    fn violated(
        &self,
        at: Duration,
        allowed: &str,
        claimed: &str,
        recent: &[Answer<V>],
    ) -> Verdict {
        let last = recent.last().map_or(0, |answer| answer.recorded);
        Verdict::violated(
            at,
            format!("{} {allowed}, as exchange {last} says", self.name),
            format!("{} {claimed}", self.name),
        )
    }
}

fn values<V: Clone>(answers: &[Answer<V>]) -> Vec<(V, f64)> {
    let value = |answer: &Answer<V>| match &answer.told {
        Told::Value { value, slack } => Some((value.clone(), *slack)),
        Told::Unknown | Told::Unreadable(_) => None,
    };
    answers.iter().filter_map(value).collect()
}
