//! Labels of moments: hung in lanes, so that no words overlap and no line crosses a word.

use std::cmp::Ordering;
use std::ops::Range;

/// Is a label that wants to stand at a moment. Its line runs from the label's lane down to the
/// panels, at `x`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Flag {
    /// Where the moment is, in pixels.
    pub(super) x: f64,
    /// How wide the words are, in pixels.
    pub(super) width: f64,
}

/// Says where a label's words go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Place {
    /// The lane, 0 is the lowest.
    pub(super) lane: usize,
    /// Whether the words stand to the left of their line instead of to the right.
    pub(super) leftward: bool,
}

/// The room between a line and its words.
pub(super) const GAP: f64 = 5.0;

/// Finds a lane and a side for every flag, `None` where there is no room.
///
/// From right to left, because words usually stand to the right of their line: then a label that
/// has to go up has its line left of all words below it. Words to the left are the last resort: they
/// stand in the way of all that is still to come.
pub(super) fn hang(flags: &[Flag], bounds: &Range<f64>, lanes: usize) -> Vec<Option<Place>> {
    let mut order: Vec<usize> = (0..flags.len()).collect();
    // Of two at the same moment the first stands on top.
    order.sort_by(|a, b| flags[*b].x.total_cmp(&flags[*a].x).then(b.cmp(a)));
    let mut places: Vec<Option<Place>> = vec![None; flags.len()];
    for index in order {
        let flag = flags[index];
        let mut candidates = [false, true]
            .into_iter()
            .flat_map(|leftward| (0..lanes).map(move |lane| Place { lane, leftward }));
        let free = candidates.find(|place| {
            let words = flag.words(*place);
            let inside = bounds.start <= words.start && words.end <= bounds.end;
            let mut others = flags.iter().zip(&places);
            let clashes = others.any(|(other, there)| {
                there.is_some_and(|there| flag.clashes(*place, *other, there))
            });
            inside && !clashes
        });
        places[index] = free;
    }
    places
}

/// Gives the number of lanes that are used.
pub(super) fn lanes_used(places: &[Option<Place>]) -> usize {
    let used = places.iter().flatten().map(|place| place.lane + 1);
    used.max().unwrap_or(0)
}

impl Flag {
    fn words(self, place: Place) -> Range<f64> {
        if place.leftward {
            self.x - GAP - self.width..self.x - GAP
        } else {
            self.x + GAP..self.x + GAP + self.width
        }
    }

    fn clashes(self, own: Place, other: Self, there: Place) -> bool {
        let (words, theirs) = (self.words(own), other.words(there));
        let crosses = |words: &Range<f64>, x: f64| words.start < x && x < words.end;
        match own.lane.cmp(&there.lane) {
            Ordering::Equal => {
                // A little more than touching, or two labels would read as one.
                let overlap = words.start < theirs.end + GAP && theirs.start < words.end + GAP;
                overlap || crosses(&words, other.x) || crosses(&theirs, self.x)
            }
            // The higher one's line comes down through the lower lane.
            Ordering::Less => crosses(&words, other.x),
            Ordering::Greater => crosses(&theirs, self.x),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn flag(x: f64, width: f64) -> Flag {
        Flag { x, width }
    }

    fn right(lane: usize) -> Option<Place> {
        Some(Place {
            lane,
            leftward: false,
        })
    }

    #[test]
    fn labels_far_apart_share_the_lowest_lane() {
        let flags = [flag(10.0, 50.0), flag(100.0, 50.0)];
        assert_eq!(hang(&flags, &(0.0..500.0), 3), [right(0), right(0)]);
    }

    #[test]
    fn the_earlier_of_two_close_ones_goes_up() {
        let flags = [flag(10.0, 50.0), flag(30.0, 50.0)];
        assert_eq!(hang(&flags, &(0.0..500.0), 3), [right(1), right(0)]);
    }

    #[test]
    fn three_close_ones_with_room_to_their_left_all_find_a_place() {
        let flags = [flag(130.0, 80.0), flag(187.0, 150.0), flag(258.0, 95.0)];
        assert_eq!(
            hang(&flags, &(0.0..900.0), 3),
            [right(2), right(1), right(0)]
        );
    }

    #[test]
    fn of_two_at_the_same_moment_the_first_stands_on_top() {
        let flags = [flag(10.0, 50.0), flag(10.0, 50.0)];
        assert_eq!(hang(&flags, &(0.0..500.0), 3), [right(1), right(0)]);
    }

    #[test]
    fn a_label_at_the_right_edge_turns_to_the_left() {
        let places = hang(&[flag(480.0, 50.0)], &(0.0..500.0), 1);
        assert!(places[0].is_some_and(|place| place.leftward));
    }

    #[test]
    fn where_there_is_no_room_there_is_no_label() {
        let flags = [flag(10.0, 50.0), flag(11.0, 50.0), flag(12.0, 50.0)];
        let places = hang(&flags, &(0.0..80.0), 2);
        assert_eq!(places.iter().filter(|place| place.is_none()).count(), 1);
        assert_eq!(lanes_used(&places), 2);
    }

    proptest! {
        #[test]
        fn no_words_overlap_and_no_line_crosses_words(
            flags in prop::collection::vec((0.0..600.0_f64, 20.0..150.0_f64), 1..25),
        ) {
            let flags: Vec<Flag> = flags.into_iter().map(|(x, width)| flag(x, width)).collect();
            let places = hang(&flags, &(0.0..800.0), 4);
            let placed = flags.iter().zip(&places);
            let placed: Vec<(Flag, Place)> =
                placed.filter_map(|(flag, place)| Some((*flag, (*place)?))).collect();
            prop_assert!(!placed.is_empty());
            for (i, (a, at)) in placed.iter().enumerate() {
                let words = a.words(*at);
                prop_assert!(words.start >= 0.0 && words.end <= 800.0);
                for (j, (b, there)) in placed.iter().enumerate() {
                    if i == j {
                        continue;
                    }
                    let theirs = b.words(*there);
                    if at.lane == there.lane {
                        prop_assert!(words.end <= theirs.start || theirs.end <= words.start);
                    }
                    if at.lane >= there.lane {
                        prop_assert!(!(theirs.start < a.x && a.x < theirs.end));
                    }
                }
            }
        }
    }
}
