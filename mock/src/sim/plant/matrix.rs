//! The exponential of a small matrix.
//!
//! A linear-algebra library has this too. It is written out here because such libraries choose
//! among machine instructions while running, and then the last bits differ from machine to machine.

/// Terms of the series: with a norm of at most 1/2, the first one left out is below
/// 0.5¹⁷ / 17! = 2e-20.
const TERMS: u32 = 17;

/// Gives `e^A` of a square matrix, rows one after the other.
///
/// # Source
/// Scaling and squaring with the Taylor series: Moler and Van Loan, Nineteen Dubious Ways to Compute
/// the Exponential of a Matrix, method 3 (from memory).
pub(super) fn exponential(size: usize, a: &[f64]) -> Vec<f64> {
    debug_assert_eq!(a.len(), size * size);
    let norm = a
        .chunks(size)
        .map(|row| row.iter().map(|value| value.abs()).sum::<f64>())
        .fold(0.0, f64::max);
    let mut scale = 1.0;
    let mut halvings = 0;
    while norm * scale > 0.5 {
        scale *= 0.5;
        halvings += 1;
    }
    let scaled: Vec<f64> = a.iter().map(|value| value * scale).collect();
    // Horner's scheme: I + A/1 (I + A/2 (I + A/3 (…))).
    let mut sum = identity(size);
    for term in (1..=TERMS).rev() {
        sum = product(size, &scaled, &sum);
        for value in &mut sum {
            *value /= f64::from(term);
        }
        for k in 0..size {
            sum[k * size + k] += 1.0;
        }
    }
    for _ in 0..halvings {
        sum = product(size, &sum, &sum);
    }
    sum
}

fn identity(size: usize) -> Vec<f64> {
    let mut matrix = vec![0.0; size * size];
    for k in 0..size {
        matrix[k * size + k] = 1.0;
    }
    matrix
}

fn product(size: usize, left: &[f64], right: &[f64]) -> Vec<f64> {
    let mut matrix = vec![0.0; size * size];
    for (row, out) in left.chunks(size).zip(matrix.chunks_mut(size)) {
        for (factor, other) in row.iter().zip(right.chunks(size)) {
            for (value, term) in out.iter_mut().zip(other) {
                *value += factor * term;
            }
        }
    }
    matrix
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn agrees_with_an_independent_library(values in prop::collection::vec(-3.0..3.0_f64, 16)) {
            // Source: nalgebra, Matrix::exp (Padé approximants, Higham 2005).
            let ours = exponential(4, &values);
            let theirs = nalgebra::Matrix4::from_row_slice(&values).exp();
            for row in 0..4 {
                for column in 0..4 {
                    let (a, b) = (ours[row * 4 + column], theirs[(row, column)]);
                    let allowed = 1e-11 * theirs.norm().max(1.0);
                    prop_assert!((a - b).abs() < allowed, "{a} against {b}");
                }
            }
        }
    }
}
