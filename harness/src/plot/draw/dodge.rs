//! Labels at the ends of lines: as near to their line as they can be without touching.

/// Moves boxes of equal height apart, up and down, and keeps their order.
///
/// `wanted` are the middles they would like to have; the result are the middles they get, in the
/// order given. They stay inside `top` to `bottom` as far as there is room for all of them, and
/// reach beyond `bottom` otherwise.
pub(super) fn dodge(wanted: &[f64], height: f64, top: f64, bottom: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]));
    // With the heights of the boxes above taken off, "not touching" becomes "not falling", and the
    // nearest row that never falls is made by replacing what falls by its mean.
    let mut above = 0.0;
    let mut groups: Vec<Group> = Vec::new();
    for index in &order {
        let mut group = Group {
            sum: wanted[*index] - above,
            count: 1,
        };
        while let Some(last) = groups.pop_if(|last| last.mean() > group.mean()) {
            group.sum += last.sum;
            group.count += last.count;
        }
        groups.push(group);
        above += height;
    }
    let lowest = top + height / 2.0;
    let highest = (bottom + height / 2.0 - above).max(lowest);
    let means = groups
        .iter()
        .flat_map(|group| std::iter::repeat_n(group.mean(), group.count));
    let mut middles = vec![0.0; wanted.len()];
    let mut above = 0.0;
    for (index, mean) in order.into_iter().zip(means) {
        middles[index] = mean.clamp(lowest, highest) + above;
        above += height;
    }
    middles
}

/// Is a run of boxes that touch.
struct Group {
    sum: f64,
    count: usize,
}

impl Group {
    #[expect(clippy::cast_precision_loss, reason = "a handful of labels")]
    fn mean(&self) -> f64 {
        self.sum / self.count as f64
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn boxes_with_room_stay_where_they_want_to_be() {
        assert_eq!(dodge(&[90.0, 20.0], 20.0, 0.0, 100.0), vec![90.0, 20.0]);
    }

    #[test]
    fn two_that_collide_part_evenly() {
        // Both want 50: one goes up and one down by half a height.
        assert_eq!(dodge(&[50.0, 50.0], 20.0, 0.0, 100.0), vec![40.0, 60.0]);
    }

    #[test]
    fn a_box_at_the_edge_is_moved_inside_and_pushes_its_neighbour() {
        assert_eq!(dodge(&[0.0, 5.0], 20.0, 0.0, 100.0), vec![10.0, 30.0]);
        assert_eq!(dodge(&[100.0, 95.0], 20.0, 0.0, 100.0), vec![90.0, 70.0]);
    }

    proptest! {
        #[test]
        fn none_touches_another_and_the_order_is_kept(
            wanted in prop::collection::vec(0.0..300.0_f64, 1..12),
        ) {
            let placed = dodge(&wanted, 20.0, 0.0, 300.0);
            for (i, a) in placed.iter().enumerate() {
                prop_assert!((9.999..=290.001).contains(a), "{}", a);
                for (j, b) in placed.iter().enumerate().skip(i + 1) {
                    prop_assert!((a - b).abs() > 19.999, "{} and {}", a, b);
                    if wanted[i] < wanted[j] {
                        prop_assert!(a < b);
                    }
                }
            }
        }
    }
}
