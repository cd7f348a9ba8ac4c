//! The exact step of one heater and its sensor over one control period.

/// Holds what a step multiplies by.
///
/// With block `x` and sensor `s` in K above the room and power `q` in W, one period gives
/// `x' = block_keep x + block_gain q` and
/// `s' = sensor_keep s + sensor_from_block x + sensor_gain q`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Coefficients {
    pub(super) block_keep: f64,
    pub(super) block_gain: f64,
    pub(super) sensor_keep: f64,
    pub(super) sensor_from_block: f64,
    pub(super) sensor_gain: f64,
}

/// Terms of the series: with both arguments at most 1/2, the first one left out is below
/// 17 × 0.5¹⁶ / 17! = 7e-19.
const TERMS: u32 = 16;

impl Coefficients {
    /// Solves `C dx/dt = q - G x` and `lag ds/dt = x - s` for a power held over the period.
    ///
    /// `lag_s` 0 makes the sensor follow the block at once.
    ///
    /// # Source
    /// C dT/dt = P - G (T - Ta) with step response T_ss - (T_ss - T0) e^(-t/tau), tau = C/G:
    /// Incropera/DeWitt chapter 5, Çengel chapter 4 (from memory). The mixed terms are divided
    /// differences of the exponential; written as series they have no case for equal time constants
    /// and none for a loss of zero.
    pub(super) fn new(capacity: f64, loss: f64, lag_s: f64, period_s: f64) -> Self {
        let block_rate = loss / capacity;
        let sensor_rate = if lag_s > 0.0 { 1.0 / lag_s } else { 0.0 };
        let mut halvings = 0;
        let mut h = period_s;
        while block_rate.max(sensor_rate) * h > 0.5 {
            h *= 0.5;
            halvings += 1;
        }
        let mut step = Self::short(capacity, block_rate, sensor_rate, h);
        for _ in 0..halvings {
            step = step.twice();
        }
        if lag_s <= 0.0 {
            step.sensor_keep = 0.0;
            step.sensor_from_block = step.block_keep;
            step.sensor_gain = step.block_gain;
        }
        step
    }

    /// Sums the series for a step short enough that it converges at once.
    fn short(capacity: f64, block_rate: f64, sensor_rate: f64, h: f64) -> Self {
        let (u, v) = (-block_rate * h, -sensor_rate * h);
        // u^k, v^k, the complete homogeneous polynomial of degree k in u and v, and 1/k!.
        let (mut u_power, mut v_power, mut mixed, mut per_factorial) = (1.0, 1.0, 1.0, 1.0);
        // exp(u), exp(v), exp[0,u], exp[u,v], exp[0,u,v].
        let (mut exp_u, mut exp_v, mut first, mut cross, mut second) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for k in 0..TERMS {
            let k = f64::from(k);
            let (next, after) = (
                per_factorial / (k + 1.0),
                per_factorial / ((k + 1.0) * (k + 2.0)),
            );
            exp_u += u_power * per_factorial;
            exp_v += v_power * per_factorial;
            first += u_power * next;
            cross += mixed * next;
            second += mixed * after;
            u_power *= u;
            v_power *= v;
            mixed = v * mixed + u_power;
            per_factorial = next;
        }
        Self {
            block_keep: exp_u,
            block_gain: h / capacity * first,
            sensor_keep: exp_v,
            sensor_from_block: -v * cross,
            sensor_gain: h / capacity * -v * second,
        }
    }

    /// Joins two equal steps into one.
    fn twice(self) -> Self {
        Self {
            block_keep: self.block_keep * self.block_keep,
            block_gain: self.block_gain + self.block_keep * self.block_gain,
            sensor_keep: self.sensor_keep * self.sensor_keep,
            sensor_from_block: (self.block_keep + self.sensor_keep) * self.sensor_from_block,
            sensor_gain: self.sensor_gain
                + self.sensor_from_block * self.block_gain
                + self.sensor_keep * self.sensor_gain,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sim::plant::sample::spread;
    use nalgebra::Matrix3;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn agrees_with_an_independent_matrix_exponential(
            capacity in spread(-3.0, 5.0),
            loss in prop_oneof![1 => Just(0.0), 8 => spread(-6.0, 2.0)],
            lag_s in spread(-2.9, 4.0),
            period_s in spread(-2.9, 1.7),
        ) {
            // Source: nalgebra, Matrix::exp (Padé approximants, Higham 2005), of the zero-order hold.
            // Where its argument is large the library itself loses digits.
            prop_assume!(period_s * (loss / capacity + 1.0 / lag_s) < 100.0);
            let by = Coefficients::new(capacity, loss, lag_s, period_s);
            let theirs = (Matrix3::new(
                -loss / capacity, 0.0, 1.0 / capacity,
                1.0 / lag_s, -1.0 / lag_s, 0.0,
                0.0, 0.0, 0.0,
            ) * period_s).exp();
            let per_watt = period_s / capacity;
            for (ours, theirs, scale) in [
                (by.block_keep, theirs[(0, 0)], 1.0),
                (by.block_gain, theirs[(0, 2)], per_watt),
                (by.sensor_keep, theirs[(1, 1)], 1.0),
                (by.sensor_from_block, theirs[(1, 0)], 1.0),
                (by.sensor_gain, theirs[(1, 2)], per_watt),
            ] {
                prop_assert!((ours - theirs).abs() < 1e-10 * scale, "{ours} against {theirs}");
            }
        }
    }
}
