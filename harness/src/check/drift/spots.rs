//! The places of the bodies a watcher asks for that matter to what it reports.

use coldbed_mock::dialect::Quantity;
use serde_json::Value;

use super::{Context, Field, scene};

/// Is a place, or the places of several bodies that show the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Spot {
    /// JSON Pointers (RFC 6901), at least one.
    pub(super) pointers: Vec<String>,
    /// What is shown there; `None` of an object with several things in it.
    pub(super) shows: Option<Quantity>,
}

impl Spot {
    fn of(pointer: &str) -> Self {
        Self {
            pointers: vec![pointer.to_owned()],
            shows: None,
        }
    }

    /// Gives the first pointer taken apart: the object, and the member's name.
    pub(super) fn member(&self) -> Option<(&str, &str)> {
        self.pointers.first()?.rsplit_once('/')
    }
}

/// Gives the whole body.
pub(super) fn whole() -> Spot {
    Spot::of("")
}

/// Gives the numbers of the heaters.
pub(super) fn of_heaters(context: &Context) -> Vec<Spot> {
    let is_reported = |field| context.reported.contains(&field);
    let heaters = scene::printing().heaters.keys();
    heaters
        .flat_map(|name| {
            let actual = is_reported(Field::Actual).then(|| Quantity::Actual(name.clone()));
            let target = (is_reported(Field::Target) || is_reported(Field::On))
                .then(|| Quantity::Target(name.clone()));
            actual.into_iter().chain(target)
        })
        .filter_map(|quantity| spot(context, quantity))
        .collect()
}

/// Gives the targets of the heaters.
pub(super) fn targets(context: &Context) -> Vec<Spot> {
    let is_target = |spot: &Spot| matches!(spot.shows, Some(Quantity::Target(_)));
    of_heaters(context).into_iter().filter(is_target).collect()
}

/// Gives the numbers of the job.
pub(super) fn of_job(context: &Context) -> Vec<Spot> {
    [
        (Field::Progress, Quantity::Progress),
        (Field::Elapsed, Quantity::Elapsed),
        (Field::Remaining, Quantity::Remaining),
    ]
    .into_iter()
    .filter(|(field, _)| context.reported.contains(field))
    .filter_map(|(_, quantity)| spot(context, quantity))
    .collect()
}

/// Gives every number.
pub(super) fn numbers(context: &Context) -> Vec<Spot> {
    [of_heaters(context), of_job(context)].concat()
}

/// Gives the job's name, whether it is reported or not: a text of which anything may be a part.
pub(super) fn job_name(context: &Context) -> Option<Spot> {
    spot(context, Quantity::JobName)
}

/// Gives what the phase is read from, each by itself.
pub(super) fn of_phase(context: &Context) -> Vec<Spot> {
    if !context.reported.contains(&Field::Phase) {
        return Vec::new();
    }
    let dialect = context.dialect.first();
    let places = dialect.places_at(&Quantity::Phase, scene::printing(), asked(context));
    let spot = |place: String| Spot {
        pointers: vec![place],
        shows: Some(Quantity::Phase),
    };
    places.into_iter().map(spot).collect()
}

/// Gives what the phase is read from and is a text, or is a list.
pub(super) fn phase_texts(context: &Context) -> Vec<Spot> {
    having(context, of_phase(context), Value::is_string)
}

/// Gives what the phase is read from and is a list.
pub(super) fn phase_lists(context: &Context) -> Vec<Spot> {
    having(context, of_phase(context), Value::is_array)
}

/// Gives the objects that heaters' numbers are members of, the whole body not among them.
pub(super) fn heater_objects(context: &Context) -> Vec<Spot> {
    objects_of(context, &of_heaters(context))
}

/// Gives the object that has all heaters in it.
pub(super) fn all_heaters(context: &Context) -> Vec<Spot> {
    objects_of(context, &heater_objects(context))
}

/// Gives the objects that have heaters in them and nothing else: every member of theirs is one, by its name.
pub(super) fn maps_of_heaters(context: &Context) -> Vec<Spot> {
    let heaters = heater_objects(context);
    let mut maps = all_heaters(context);
    maps.retain(|map| {
        let is_within = |heater: &&Spot| {
            let parent = heater.member().map(|(object, _)| object);
            map.pointers.first().map(String::as_str) == parent
        };
        let members =
            value(context, map).and_then(|value| value.as_object().map(serde_json::Map::len));
        members == Some(heaters.iter().filter(is_within).count())
    });
    maps
}

/// Gives the objects that the job's numbers are members of, the whole body not among them.
pub(super) fn job_objects(context: &Context) -> Vec<Spot> {
    let mut members = of_job(context);
    members.extend(job_name(context));
    objects_of(context, &members)
}

/// Gives the whole body and every object in it that matters.
pub(super) fn objects(context: &Context) -> Vec<Spot> {
    let mut all = vec![whole()];
    all.extend(all_heaters(context));
    all.extend(heater_objects(context));
    all.extend(job_objects(context));
    having(context, all, Value::is_object)
}

/// Gives the outermost object that matters: the whole body, if that is one.
pub(super) fn outermost(context: &Context) -> Spot {
    let first = objects(context).into_iter().next();
    first.unwrap_or_else(whole)
}

/// Gives the bodies that the watcher asks for, as they are while the printer prints.
pub(super) fn bodies(context: &Context) -> Vec<Value> {
    let dialect = context.dialect.first();
    dialect.bodies_at(scene::printing(), asked(context))
}

/// Gives what is at a spot in the bodies.
pub(super) fn value(context: &Context, spot: &Spot) -> Option<Value> {
    let bodies = bodies(context);
    let mut found = spot
        .pointers
        .iter()
        .flat_map(|pointer| bodies.iter().filter_map(|body| body.pointer(pointer)));
    found.next().cloned()
}

fn spot(context: &Context, quantity: Quantity) -> Option<Spot> {
    let dialect = context.dialect.first();
    let pointers = dialect.places_at(&quantity, scene::printing(), asked(context));
    (!pointers.is_empty()).then_some(Spot {
        pointers,
        shows: Some(quantity),
    })
}

/// Tells of a path whether the watcher asks for it; of all of them, if it asks for none that is known.
fn asked(context: &Context) -> impl Fn(&str) -> bool {
    let dialect = context.dialect.first();
    let is_asked = |path: &str| context.asked.contains(path);
    let any = !dialect.bodies_at(scene::printing(), is_asked).is_empty();
    move |path| !any || context.asked.contains(path)
}

fn objects_of(context: &Context, members: &[Spot]) -> Vec<Spot> {
    let mut objects: Vec<Spot> = Vec::new();
    for member in members.iter().flat_map(|member| &member.pointers) {
        let Some((object, _)) = member.rsplit_once('/') else {
            continue;
        };
        let spot = Spot::of(object);
        if !object.is_empty() && !objects.contains(&spot) {
            objects.push(spot);
        }
    }
    having(context, objects, Value::is_object)
}

fn having(context: &Context, spots: Vec<Spot>, is_such: fn(&Value) -> bool) -> Vec<Spot> {
    let bodies = bodies(context);
    let has = |spot: &Spot| {
        spot.pointers.iter().any(|pointer| {
            bodies
                .iter()
                .any(|body| body.pointer(pointer).is_some_and(is_such))
        })
    };
    spots.into_iter().filter(has).collect()
}
