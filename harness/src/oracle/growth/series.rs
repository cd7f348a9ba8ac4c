//! Made-up series of memory and of open files, for the tests and for `examples/growth_lab.rs`.
//!
//! Nothing in them is measured. Bytes, unless said otherwise; sizes are our own choice.

/// A page of memory, bytes: what most Linux machines have (common practice).
pub(super) const PAGE: f64 = 4096.0;
/// A process of some megabytes.
const BASE: f64 = 5e6;
const KIB: f64 = 1024.0;

/// Makes a series: value by poll.
pub(super) type Make = fn(&mut Noise, usize) -> Vec<f64>;

/// Is noise from a seed.
#[derive(Debug)]
pub(super) struct Noise(fastrand::Rng);

impl Noise {
    /// Begins with that seed.
    pub(super) fn new(seed: u64) -> Self {
        Self(fastrand::Rng::with_seed(seed))
    }

    /// Gives a number from 0 to 1, each as likely.
    pub(super) fn share(&mut self) -> f64 {
        self.0.f64()
    }

    /// Gives a number of the standard normal distribution (Box and Muller 1958).
    pub(super) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.share()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.share()).cos()
    }
}

fn pages(values: impl Iterator<Item = f64>) -> Vec<f64> {
    values.map(|value| (value / PAGE).floor() * PAGE).collect()
}

fn polls(number: usize) -> impl Iterator<Item = f64> {
    (0..number).map(|poll| f64::from(u32::try_from(poll).unwrap_or(u32::MAX)))
}

/// Noise that forgets: each value keeps that share of the last one.
fn forgetting(noise: &mut Noise, number: usize, kept: f64, deviation: f64) -> Vec<f64> {
    let mut value = noise.normal() * deviation;
    let fresh = deviation * (1.0 - kept * kept).sqrt();
    let next = |_| {
        let now = value;
        value = kept * value + fresh * noise.normal();
        now
    };
    (0..number).map(next).collect()
}

/// Nothing ever changes.
pub(super) fn still(_: &mut Noise, number: usize) -> Vec<f64> {
    pages(polls(number).map(|_| BASE))
}

/// Flat, 32 KiB of noise, each value by itself.
pub(super) fn flat(noise: &mut Noise, number: usize) -> Vec<f64> {
    pages((0..number).map(|_| BASE + 32.0 * KIB * noise.normal()))
}

/// Flat, 32 KiB of noise that keeps nine tenths of itself.
pub(super) fn flat_and_slow(noise: &mut Noise, number: usize) -> Vec<f64> {
    let wobble = forgetting(noise, number, 0.9, 32.0 * KIB);
    pages(wobble.into_iter().map(|wobble| BASE + wobble))
}

/// A collector that frees half a megabyte every 100 polls.
pub(super) fn sawtooth(noise: &mut Noise, number: usize) -> Vec<f64> {
    teeth(noise, number, 0.0, 100.0, 0.0)
}

/// A collector that frees when it likes, every 50 to 150 polls.
pub(super) fn ragged_sawtooth(noise: &mut Noise, number: usize) -> Vec<f64> {
    teeth(noise, number, 0.0, 100.0, 0.5)
}

/// A collector that frees every 750 polls: twice after the warm-up of 2000.
pub(super) fn slow_sawtooth(noise: &mut Noise, number: usize) -> Vec<f64> {
    teeth(noise, number, 0.0, 750.0, 0.0)
}

/// A collector that frees every 100 polls, and a leak beside it.
pub(super) fn leak_under_sawtooth(noise: &mut Noise, number: usize, leak: f64) -> Vec<f64> {
    teeth(noise, number, leak, 100.0, 0.0)
}

fn teeth(noise: &mut Noise, number: usize, leak: f64, period: f64, spread: f64) -> Vec<f64> {
    const TOOTH: f64 = 512.0 * KIB;
    let (mut at, mut length) = (noise.share() * period, period);
    let mut height = || {
        at += 1.0;
        if at >= length {
            at -= length;
            length = period * (1.0 + spread * (2.0 * noise.share() - 1.0));
        }
        TOOTH * at / period
    };
    pages(polls(number).map(|poll| BASE + leak * poll + height()))
}

/// Rises by a megabyte in the first polls, slower and slower, and is flat then.
pub(super) fn warm_up(noise: &mut Noise, number: usize) -> Vec<f64> {
    pages(polls(number).map(|poll| {
        BASE + 1024.0 * KIB * (1.0 - (-poll / 50.0).exp()) + 4.0 * KIB * noise.normal()
    }))
}

/// Rises steadily for the first two fifths, beyond what is dropped as warm-up.
pub(super) fn long_warm_up(noise: &mut Noise, number: usize) -> Vec<f64> {
    pages(
        shares(number)
            .map(|share| BASE + 1024.0 * KIB * (share / 0.4).min(1.0) + 4.0 * KIB * noise.normal()),
    )
}

/// Flat but for half a megabyte more from some moment in the last third on.
pub(super) fn late_jump(noise: &mut Noise, number: usize) -> Vec<f64> {
    let jump = 1.0 - noise.share() / 3.0;
    jumps_at(noise, number, jump)
}

/// Flat but for half a megabyte more from any moment on.
pub(super) fn one_jump(noise: &mut Noise, number: usize) -> Vec<f64> {
    let jump = noise.share();
    jumps_at(noise, number, jump)
}

fn jumps_at(noise: &mut Noise, number: usize, jump: f64) -> Vec<f64> {
    pages(shares(number).map(|share| {
        let more = if share > jump { 512.0 * KIB } else { 0.0 };
        BASE + more + 4.0 * KIB * noise.normal()
    }))
}

/// How far each poll is, 0 to 1.
fn shares(number: usize) -> impl Iterator<Item = f64> {
    let whole = f64::from(u32::try_from(number).unwrap_or(u32::MAX));
    polls(number).map(move |poll| poll / whole)
}

/// A leak, and 8 KiB of noise.
pub(super) fn leak(noise: &mut Noise, number: usize, leak: f64) -> Vec<f64> {
    pages(polls(number).map(|poll| BASE + leak * poll + 8.0 * KIB * noise.normal()))
}

/// A leak, and 16 KiB of noise that keeps nine tenths of itself.
pub(super) fn leak_in_slow_noise(noise: &mut Noise, number: usize, leak: f64) -> Vec<f64> {
    let wobble = forgetting(noise, number, 0.9, 16.0 * KIB);
    let both = polls(number).zip(wobble);
    pages(both.map(|(poll, wobble)| BASE + leak * poll + wobble))
}

/// A leak behind an allocator that takes so many bytes from the system at once.
pub(super) fn leak_in_steps(noise: &mut Noise, number: usize, leak: f64, step: f64) -> Vec<f64> {
    let begun = noise.share() * step;
    let taken = move |poll: f64| ((begun + leak * poll) / step).floor() * step;
    pages(polls(number).map(|poll| BASE + taken(poll)))
}

/// Open files: 10 and sometimes an 11th or 12th, for the connections of the moment.
pub(super) fn open_files(noise: &mut Noise, number: usize) -> Vec<f64> {
    (0..number)
        .map(|_| 10.0 + (noise.share() * 3.0).floor())
        .collect()
}

/// Open files, one of which stays open every 50 polls.
pub(super) fn forgotten_files(noise: &mut Noise, number: usize) -> Vec<f64> {
    let more = polls(number).map(|poll| (poll / 50.0).floor());
    more.zip(open_files(noise, number))
        .map(|(forgotten, open)| forgotten + open)
        .collect()
}
