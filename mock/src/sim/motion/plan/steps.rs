//! Collects steps in bounded memory.

use super::chunk::MotionChunk;
use super::step::ProgramStep;

/// Says that the steps cannot be made fewer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Full;

/// Collects steps: motion into chunks, changes that nobody could see away, and neighbours together when it gets full.
#[derive(Debug)]
pub(super) struct Steps {
    list: Vec<ProgramStep>,
    /// The chunk still growing; always after all of `list`.
    open: Option<MotionChunk>,
    chunk_s: f64,
    max_steps: usize,
}

/// Chooses how much detail may go when neighbours are put together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Thinning {
    /// Only chunks side by side.
    Neighbours,
    /// Chunks with steps of no length between them too: those then come up to a chunk too early.
    AcrossInstants,
}

impl Steps {
    pub(super) fn new(chunk_s: f64, max_steps: usize) -> Self {
        Self {
            list: Vec::new(),
            open: None,
            chunk_s,
            max_steps,
        }
    }

    /// Adds one move.
    pub(super) fn move_on(&mut self, step: &MotionChunk) -> Result<(), Full> {
        match &mut self.open {
            Some(open) if open.layer == step.layer => open.append(step),
            _ => {
                self.close()?;
                self.open = Some(*step);
            }
        }
        if self
            .open
            .is_some_and(|open| open.duration_s >= self.chunk_s)
        {
            self.close()
        } else {
            Ok(())
        }
    }

    /// Adds a step that is no motion.
    pub(super) fn add(&mut self, step: ProgramStep) -> Result<(), Full> {
        self.close()?;
        put(&mut self.list, step);
        self.keep_bounded()
    }

    pub(super) fn finish(mut self) -> Result<Vec<ProgramStep>, Full> {
        self.close()?;
        Ok(self.list)
    }

    fn close(&mut self) -> Result<(), Full> {
        if let Some(open) = self.open.take() {
            self.list.push(ProgramStep::Motion(open));
        }
        self.keep_bounded()
    }

    fn keep_bounded(&mut self) -> Result<(), Full> {
        if self.list.len() < self.max_steps {
            return Ok(());
        }
        // Some room must come free, or every further step would cost a pass over all.
        let enough = self.max_steps - self.max_steps / 8;
        for thinning in [Thinning::Neighbours, Thinning::AcrossInstants] {
            self.chunk_s *= 2.0;
            self.thin(thinning);
            if self.list.len() <= enough {
                return Ok(());
            }
        }
        // Motion without stops always merges in the end, however long the chunks must get.
        while self.chunk_s < self.motion_s() {
            self.chunk_s *= 2.0;
            self.thin(Thinning::AcrossInstants);
            if self.list.len() <= enough {
                return Ok(());
            }
        }
        Err(Full)
    }

    fn motion_s(&self) -> f64 {
        self.list
            .iter()
            .map(|step| {
                if let ProgramStep::Motion(chunk) = step {
                    chunk.duration_s
                } else {
                    0.0
                }
            })
            .sum()
    }

    fn thin(&mut self, thinning: Thinning) {
        let mut kept: Vec<ProgramStep> = Vec::with_capacity(self.list.len());
        for step in std::mem::take(&mut self.list) {
            match step {
                ProgramStep::Motion(chunk) => self.thin_chunk(&mut kept, &chunk, thinning),
                other => kept.push(other),
            }
        }
        self.list = kept;
    }

    fn thin_chunk(&self, kept: &mut Vec<ProgramStep>, chunk: &MotionChunk, thinning: Thinning) {
        let instants = kept
            .iter()
            .rev()
            .take_while(|step| step.instant().is_some())
            .count();
        let before = kept.len() - instants;
        let reach = match thinning {
            Thinning::Neighbours => instants == 0,
            Thinning::AcrossInstants => true,
        };
        if reach
            && before > 0
            && let ProgramStep::Motion(mut merged) = kept[before - 1]
            && (merged.layer == chunk.layer || thinning == Thinning::AcrossInstants)
            && merged.duration_s + chunk.duration_s <= self.chunk_s
        {
            merged.append(chunk);
            kept.remove(before - 1);
            let moved: Vec<ProgramStep> = kept.drain(before - 1..).collect();
            for step in moved {
                put(kept, step);
            }
            kept.push(ProgramStep::Motion(merged));
        } else {
            kept.push(ProgramStep::Motion(*chunk));
        }
    }
}

/// Appends a step; of changes at one moment only the last of a kind stays.
fn put(list: &mut Vec<ProgramStep>, step: ProgramStep) {
    if let Some(kind) = step.instant() {
        let same_moment = list
            .iter()
            .rev()
            .take_while(|other| other.instant().is_some())
            .count();
        let first = list.len() - same_moment;
        if let Some(earlier) =
            (first..list.len()).find(|index| list[*index].instant() == Some(kind))
        {
            list.remove(earlier);
        }
    }
    list.push(step);
}

#[cfg(test)]
mod tests {
    use super::super::step::Place;
    use super::*;
    use crate::sim::HeaterKind;

    fn one_move(duration_s: f64, layer: u32) -> MotionChunk {
        MotionChunk {
            duration_s,
            naive_s: duration_s,
            start: Place::default(),
            end: Place::default(),
            layer,
            start_z_mm: 0.0,
            end_z_mm: 0.0,
            start_filament_mm: 0.0,
            filament_mm: 1.0,
            moves: 1,
        }
    }

    fn chunks(list: &[ProgramStep]) -> Vec<MotionChunk> {
        list.iter()
            .filter_map(|step| {
                if let ProgramStep::Motion(chunk) = step {
                    Some(*chunk)
                } else {
                    None
                }
            })
            .collect()
    }

    #[test]
    fn a_chunk_ends_once_it_is_long_enough_or_its_layer_is_over() {
        let mut steps = Steps::new(0.5, 1000);
        for (duration_s, layer) in [(0.3, 1), (0.3, 1), (0.1, 1), (0.1, 2), (2.0, 2)] {
            steps.move_on(&one_move(duration_s, layer)).unwrap();
        }
        let found: Vec<u64> = chunks(&steps.finish().unwrap())
            .iter()
            .map(|chunk| chunk.moves)
            .collect();
        assert_eq!(found, [2, 1, 2]);
    }

    #[test]
    fn of_changes_at_one_moment_the_last_of_a_kind_stays() {
        let mut steps = Steps::new(0.5, 1000);
        let target = |celsius| ProgramStep::SetTarget {
            heater: HeaterKind::Extruder,
            celsius,
        };
        for step in [
            target(200.0),
            ProgramStep::Fan { fraction: 0.5 },
            target(210.0),
        ] {
            steps.add(step).unwrap();
        }
        assert_eq!(
            steps.finish().unwrap(),
            [ProgramStep::Fan { fraction: 0.5 }, target(210.0)]
        );
    }

    #[test]
    fn a_full_list_merges_motion_and_loses_no_time_material_or_move() {
        let mut steps = Steps::new(0.5, 100);
        for index in 0..10_000_u32 {
            steps.move_on(&one_move(1.0, index / 50)).unwrap();
            if index % 3 == 0 {
                steps
                    .add(ProgramStep::Fan {
                        fraction: f64::from(index % 2),
                    })
                    .unwrap();
            }
        }
        let list = steps.finish().unwrap();
        // Not longer than allowed, and not shorter than the length of chunks needs.
        assert!((50..=101).contains(&list.len()), "{} steps", list.len());
        for pair in list.windows(2) {
            let kinds = [pair[0].instant(), pair[1].instant()];
            assert!(
                kinds[0].is_none() || kinds[0] != kinds[1],
                "{pair:?} happen at one moment"
            );
        }
        let found = chunks(&list);
        assert_eq!(found.iter().map(|chunk| chunk.moves).sum::<u64>(), 10_000);
        assert!((found.iter().map(|chunk| chunk.duration_s).sum::<f64>() - 10_000.0).abs() < 1e-6);
        assert!((found.iter().map(|chunk| chunk.filament_mm).sum::<f64>() - 10_000.0).abs() < 1e-6);
    }

    #[test]
    fn a_full_list_keeps_its_chunks_as_short_as_its_length_allows() {
        let mut steps = Steps::new(0.5, 100);
        for _ in 0..10_000 {
            steps.move_on(&one_move(1.0, 1)).unwrap();
        }
        let longest = chunks(&steps.finish().unwrap())
            .iter()
            .map(|chunk| chunk.duration_s)
            .fold(0.0, f64::max);
        // A hundred chunks for 10000 s are 100 s each; doubling overshoots by up to two, and the list may be half full.
        assert!(longest <= 512.0, "{longest} s");
    }

    #[test]
    fn merging_across_changes_brings_the_last_of_a_kind_before_the_motion() {
        let fan = |fraction| ProgramStep::Fan { fraction };
        let layer = |index| ProgramStep::LayerChange { index, z_mm: 0.2 };
        let motion = |duration_s, layer| ProgramStep::Motion(one_move(duration_s, layer));
        let mut steps = Steps::new(4.0, 100);
        steps.list = vec![
            fan(0.1),
            motion(1.0, 1),
            fan(0.2),
            motion(1.0, 1),
            layer(2),
            motion(1.0, 2),
            motion(3.0, 2),
        ];
        steps.thin(Thinning::Neighbours);
        assert_eq!(
            steps.list.len(),
            6,
            "only the last two go together: {:?}",
            steps.list
        );
        steps.list = vec![
            fan(0.1),
            motion(1.0, 1),
            fan(0.2),
            motion(1.0, 1),
            layer(2),
            motion(1.0, 2),
            motion(3.0, 2),
        ];
        steps.thin(Thinning::AcrossInstants);
        let merged = MotionChunk {
            duration_s: 3.0,
            naive_s: 3.0,
            layer: 2,
            filament_mm: 3.0,
            moves: 3,
            ..one_move(3.0, 2)
        };
        assert_eq!(
            steps.list,
            [
                fan(0.2),
                layer(2),
                ProgramStep::Motion(merged),
                motion(3.0, 2)
            ]
        );
    }

    #[test]
    fn stops_are_never_merged_away_so_too_many_are_refused() {
        let mut steps = Steps::new(0.5, 20);
        let results: Vec<_> = (0..20)
            .map(|_| {
                steps.add(ProgramStep::Pause {
                    place: Place::default(),
                })
            })
            .collect();
        assert_eq!(results.iter().position(Result::is_err), Some(19));
    }
}
