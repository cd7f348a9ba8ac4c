//! How fast a sampled quantity grows with each poll, and within what bounds that is known.
//!
//! For the memory that a process keeps resident and the files it has open. Such series have no
//! independent errors: memory is taken in pages and in larger steps, a collector lets it rise and
//! fall, one large answer lets it jump once. Least squares with a t-interval takes each sample for a
//! witness of its own, and finds growth in many runs without any. Instead (sources from memory, the
//! arithmetic held against scipy by `tests/external/growth_lab.py`):
//!
//! 1. **Warm-up is dropped**: the first quarter of the samples ([`WARM_UP_SHARE`]), however they look.
//!    Dropping what looks like a rise would be choosing the data by the result.
//! 2. **Block means**: what is left is cut into [`BLOCKS`] blocks of as equal size as can be, of which
//!    the means are used. Blocks longer than what neighbours have in common are nearly independent,
//!    and more than 30 of them help little (Schmeiser 1982, "Batch size effects in the analysis of
//!    simulation output", Operations Research 30: 10 to 30 batches).
//! 3. **The median of all slopes** between two blocks is the estimate (Theil 1950; Sen 1968,
//!    "Estimates of the regression coefficient based on Kendall's tau", Journal of the American
//!    Statistical Association 63). Up to 29 % of the blocks may be anything at all (Rousseeuw and
//!    Leroy 1987, chapter 3): a rise that goes on after the warm-up, a late jump.
//! 4. **Sen's interval**: the slopes at the ranks `(N -+ z sigma) / 2`, with sigma² the variance of
//!    Kendall's S under no trend, ties counted (Sen 1968, section 5; Kendall 1975).
//! 5. **Blocks that still follow each other** widen it: sigma² times
//!    `1 + 2 / (n (n-1) (n-2)) sum (n-k) (n-k-1) (n-k-2) rho_k`, rho_k the autocorrelation of the ranks
//!    of what the line leaves (Hamed and Rao 1998, "A modified Mann-Kendall trend test for
//!    autocorrelated data", Journal of Hydrology 204), summed up to the first that is not positive (as
//!    the sequences of Geyer 1992, "Practical Markov chain Monte Carlo", Statistical Science 7), and
//!    never less than 1. A single step leaves much that follows itself, a staircase little.
//! 6. **Resolution**: a quantity that is only seen in steps of `resolution` is known to within one of
//!    them, and so the interval is widened by one step over the polls looked at.
//!
//! What it cannot do: a rise that slowly comes to rest but is still going on, and memory that wanders
//! without coming back, grow as far as these polls can tell. The page `docs/growth.md` says which
//! growth is found after how many polls.

use statrs::distribution::{ContinuousCDF, Normal};

#[cfg(test)]
mod series;
#[cfg(test)]
mod tests;

/// The share of samples dropped as warm-up (own choice: watchers fill their buffers in their first
/// polls; a caller who knows more drops more).
pub const WARM_UP_SHARE: f64 = 0.25;
/// The number of block means (own choice, from Schmeiser's 10 to 30).
pub const BLOCKS: usize = 20;
/// The fewest samples that are judged, so that a block has three after the warm-up (own choice).
pub const LEAST_SAMPLES: usize = 80;
/// How sure the interval is, both sides together (own choice: one false alarm in 200 runs at most).
pub const LEVEL: f64 = 0.99;
/// What an allocator usually asks the system for at once, bytes: `M_TOP_PAD` of mallopt(3)
/// (from memory).
pub const ALLOCATOR_STEP_BYTES: f64 = 131_072.0;

/// Is one look at a quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// How many polls, or seconds, there had been.
    pub polls: f64,
    /// The quantity: bytes, open files.
    pub value: f64,
}

/// Says how much a quantity grows with each poll, in its own unit.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Growth {
    /// The estimate.
    pub per_poll: f64,
    /// The lower end of the interval.
    pub low: f64,
    /// The upper end of the interval.
    pub high: f64,
    /// How many samples it rests on, after the warm-up.
    pub samples: usize,
    /// How sure the interval is, 0 to 1.
    pub level: f64,
}

/// Says why growth cannot be estimated.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum GrowthError {
    /// There is too little to go by.
    #[error("{samples} samples are too few [at least {LEAST_SAMPLES}: let it poll longer]")]
    TooFew {
        /// How many there are.
        samples: usize,
    },
    /// A sample is no number.
    #[error("sample {index} is not finite")]
    NotFinite {
        /// Which, from 0.
        index: usize,
    },
    /// A sample is of fewer polls than the one before.
    #[error("sample {index} is of fewer polls than the one before")]
    OutOfOrder {
        /// Which, from 0.
        index: usize,
    },
    /// The resolution is no step.
    #[error("resolution {resolution} is not a number from 0 up")]
    Resolution {
        /// What was given.
        resolution: f64,
    },
    /// From one block to the next there was no poll.
    #[error("{polls} polls are too few for {BLOCKS} blocks [let it poll longer]")]
    TooFewPolls {
        /// How many there were after the warm-up.
        polls: f64,
    },
}

impl Growth {
    /// Estimates the growth of a series, in the order it was sampled.
    ///
    /// `resolution` is the smallest step in which the quantity can be seen: a page for resident
    /// memory, or [`ALLOCATOR_STEP_BYTES`] where nothing is known of the allocator, 1 for open files.
    ///
    /// ```
    /// use coldbed::oracle::growth::{Growing, Growth, Sample, grows};
    ///
    /// let leak: Vec<Sample> = (0..1000)
    ///     .map(f64::from)
    ///     .map(|polls| Sample { polls, value: 2e6 + 300.0 * polls })
    ///     .collect();
    /// let growth = Growth::of(&leak, 4096.0).expect("enough samples");
    /// assert!((growth.per_poll - 300.0).abs() < 1e-6);
    /// assert_eq!(grows(&growth, 50.0), Growing::Yes);
    /// assert!(Growth::of(&leak[..50], 4096.0).is_err());
    /// ```
    ///
    /// # Errors
    /// [`GrowthError`]: too few samples or polls, samples out of order, numbers that are none.
    pub fn of(samples: &[Sample], resolution: f64) -> Result<Self, GrowthError> {
        let kept = after_warm_up(samples)?;
        if !(resolution.is_finite() && resolution >= 0.0) {
            return Err(GrowthError::Resolution { resolution });
        }
        let polls = kept[kept.len() - 1].polls - kept[0].polls;
        let blocks = block_means(kept);
        if blocks.windows(2).any(|pair| pair[1].polls <= pair[0].polls) {
            return Err(GrowthError::TooFewPolls { polls });
        }
        let slopes = sorted_slopes(&blocks);
        let per_poll = median(&slopes);
        let variance = kendall_variance(&blocks) * inflation(&blocks, per_poll);
        let (low, high) = sen_interval(&slopes, variance);
        Ok(Self {
            per_poll,
            low: low - resolution / polls,
            high: high + resolution / polls,
            samples: kept.len(),
            level: LEVEL,
        })
    }
}

/// Says whether a quantity grows by more than is allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Growing {
    /// It does: the whole interval is above what is allowed.
    Yes,
    /// It does not: the whole interval is within what is allowed.
    No,
    /// The interval holds both: more polls are needed.
    CannotTell,
}

/// Holds a growth against what is allowed, in the same unit.
pub fn grows(growth: &Growth, allowed_per_poll: f64) -> Growing {
    if growth.low > allowed_per_poll {
        Growing::Yes
    } else if growth.high <= allowed_per_poll {
        Growing::No
    } else {
        Growing::CannotTell
    }
}

fn after_warm_up(samples: &[Sample]) -> Result<&[Sample], GrowthError> {
    if samples.len() < LEAST_SAMPLES {
        let samples = samples.len();
        return Err(GrowthError::TooFew { samples });
    }
    let is_finite = |sample: &Sample| sample.polls.is_finite() && sample.value.is_finite();
    if let Some(index) = samples.iter().position(|sample| !is_finite(sample)) {
        return Err(GrowthError::NotFinite { index });
    }
    if let Some(before) = samples
        .windows(2)
        .position(|pair| pair[1].polls < pair[0].polls)
    {
        return Err(GrowthError::OutOfOrder { index: before + 1 });
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a length is a length"
    )]
    let warm_up = (count(samples.len()) * WARM_UP_SHARE).ceil() as usize;
    Ok(&samples[warm_up..])
}

fn block_means(kept: &[Sample]) -> Vec<Sample> {
    let edge = |block: usize| block * kept.len() / BLOCKS;
    let mean = |block: &[Sample], of: fn(&Sample) -> f64| {
        block.iter().map(of).sum::<f64>() / count(block.len())
    };
    (0..BLOCKS)
        .map(|block| &kept[edge(block)..edge(block + 1)])
        .map(|block| Sample {
            polls: mean(block, |sample| sample.polls),
            value: mean(block, |sample| sample.value),
        })
        .collect()
}

fn sorted_slopes(blocks: &[Sample]) -> Vec<f64> {
    let mut slopes = Vec::with_capacity(blocks.len() * (blocks.len() - 1) / 2);
    for (index, one) in blocks.iter().enumerate() {
        for later in &blocks[index + 1..] {
            slopes.push((later.value - one.value) / (later.polls - one.polls));
        }
    }
    slopes.sort_by(f64::total_cmp);
    slopes
}

fn median(sorted: &[f64]) -> f64 {
    let middle = sorted.len() / 2;
    match sorted.len() % 2 {
        1 => sorted[middle],
        _ => f64::midpoint(sorted[middle - 1], sorted[middle]),
    }
}

/// The variance of Kendall's S without a trend; ties take from it.
fn kendall_variance(blocks: &[Sample]) -> f64 {
    let part = |n: f64| n * (n - 1.0) * (2.0 * n + 5.0);
    let mut values: Vec<f64> = blocks.iter().map(|block| block.value).collect();
    values.sort_by(f64::total_cmp);
    let ties: f64 = values
        .chunk_by(|a, b| a.total_cmp(b).is_eq())
        .map(|tied| part(count(tied.len())))
        .sum();
    (part(count(blocks.len())) - ties) / 18.0
}

/// By how much the variance grows because neighbours are alike: 1 where they are not.
fn inflation(blocks: &[Sample], per_poll: f64) -> f64 {
    let left: Vec<f64> = blocks
        .iter()
        .map(|block| block.value - per_poll * block.polls)
        .collect();
    let n = count(left.len());
    let ranks = centred_ranks(&left);
    let whole: f64 = ranks.iter().map(|rank| rank * rank).sum();
    if whole <= 0.0 {
        return 1.0;
    }
    let sum: f64 = (1..ranks.len() - 2)
        .map(|lag| {
            let together = ranks.iter().zip(&ranks[lag..]).map(|(a, b)| a * b);
            (count(lag), together.sum::<f64>() / whole)
        })
        .take_while(|(_, alike)| *alike > 0.0)
        .map(|(lag, alike)| (n - lag) * (n - lag - 1.0) * (n - lag - 2.0) * alike)
        .sum();
    1.0 + 2.0 * sum / (n * (n - 1.0) * (n - 2.0))
}

/// Ranks less their mean; ties share the mean of their ranks.
fn centred_ranks(values: &[f64]) -> Vec<f64> {
    let mean = (count(values.len()) - 1.0) / 2.0;
    let rank = |value: f64| {
        let below = values.iter().filter(|other| **other < value).count();
        let above = values.iter().filter(|other| **other > value).count();
        f64::midpoint(count(below), count(values.len() - 1 - above)) - mean
    };
    values.iter().map(|value| rank(*value)).collect()
}

/// Sen's interval: the slopes at two ranks, or the outermost where those do not reach.
fn sen_interval(slopes: &[f64], variance: f64) -> (f64, f64) {
    let reach = Normal::standard().inverse_cdf(f64::midpoint(1.0, LEVEL)) * variance.sqrt();
    let number = count(slopes.len());
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "held to the slopes there are"
    )]
    let at = |rank: f64| slopes[rank.clamp(0.0, number - 1.0) as usize];
    (
        at(((number - reach) / 2.0).round_ties_even() - 1.0),
        at(((number + reach) / 2.0).round_ties_even()),
    )
}

#[expect(clippy::cast_precision_loss, reason = "no series has 2^53 samples")]
fn count(number: usize) -> f64 {
    number as f64
}
