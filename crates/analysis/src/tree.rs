//! Ways along the elimination tree of a factored matrix: what a sparse right-hand side touches, and no more.
//!
//! # Source  The nonzeros of a triangular solution are those on the ways from the right-hand side's to the root of the tree:
//! J. R. Gilbert, Predicting structure in sparse matrix computations, SIAM J. Matrix Anal. Appl. 15 (1994) 62–79 [from memory].

use crate::ldlt::{Factor, Pattern};

const NONE: u32 = u32::MAX;

impl Pattern {
    /// x ← L⁻¹ x where `x` is zero but at some ascending places, each given with all that stand above it.
    pub(crate) fn forward_at(&self, factor: &Factor, places: &[u32], x: &mut [f64]) {
        for &k in places {
            self.forward_one(factor, k as usize, x);
        }
    }

    /// As [`Pattern::backward`] at some places, each given after all that stand above it: from `y` into `x`, which is added to
    /// `sum`; `y` is zero there afterwards.
    pub(crate) fn backward_from<'p>(
        &self,
        factor: &Factor,
        places: impl Iterator<Item = &'p u32>,
        y: &mut [f64],
        x: &mut [f64],
        sum: &mut [f64],
    ) {
        for &k in places {
            sum[k as usize] += self.backward_one(factor, k as usize, y, x);
        }
    }

    /// As [`Pattern::backward`] at some places, each given after all that stand above it: from `y`, which is zero there afterwards, into `x`.
    pub(crate) fn backward_at<'p>(&self, factor: &Factor, places: impl Iterator<Item = &'p u32>, y: &mut [f64], x: &mut [f64]) {
        for &k in places {
            self.backward_one(factor, k as usize, y, x);
        }
    }

    fn backward_one(&self, factor: &Factor, k: usize, y: &mut [f64], x: &mut [f64]) -> f64 {
        // Most are zero in a step that few branches drive, and a division takes longer than to see that.
        let mut at = std::mem::take(&mut y[k]);
        if at != 0.0 {
            at /= factor.diagonal[k];
        }
        let (start, end) = (self.factor_start[k] as usize, self.factor_start[k + 1] as usize);
        for (l, &row) in factor.lower[start..end].iter().zip(&self.factor_row[start..end]) {
            at -= l * x[row as usize];
        }
        x[k] = at;
        at
    }

    /// A column of a factor: its pivot, and its entries by row.
    pub(crate) fn column<'f>(&'f self, factor: &'f Factor, k: u32) -> (f64, impl Iterator<Item = (u32, f64)> + 'f) {
        let run = self.factor_start[k as usize] as usize..self.factor_start[k as usize + 1] as usize;
        (factor.diagonal[k as usize], self.factor_row[run.clone()].iter().copied().zip(factor.lower[run].iter().copied()))
    }

    /// How many entries a column of the factor has.
    pub(crate) fn entries(&self, k: u32) -> u32 {
        self.factor_start[k as usize + 1] - self.factor_start[k as usize]
    }

    /// Where the entry of a column in a row stands in the factor; the row has to be one of the column's.
    pub(crate) fn entry(&self, column: u32, row: u32) -> usize {
        let (start, end) = (self.factor_start[column as usize] as usize, self.factor_start[column as usize + 1] as usize);
        start + self.factor_row[start..end].partition_point(|&at| at < row)
    }

    /// The matrix whose factor is that of some ascending places alone, on the pattern of the factor and zero elsewhere.
    pub(crate) fn multiplied(&self, factor: &Factor, places: &[u32]) -> Factor {
        let mut matrix = self.factor();
        for &k in places {
            let (start, end) = (self.factor_start[k as usize] as usize, self.factor_start[k as usize + 1] as usize);
            let pivot = factor.diagonal[k as usize];
            matrix.diagonal[k as usize] += pivot;
            for l in start..end {
                let (row, product) = (self.factor_row[l], pivot * factor.lower[l]);
                matrix.lower[l] += product;
                matrix.diagonal[row as usize] += product * factor.lower[l];
                for m in l + 1..end {
                    matrix.lower[self.entry(row, self.factor_row[m])] += product * factor.lower[m];
                }
            }
        }
        matrix
    }

    /// Factors in place a matrix that some ascending places hold on the pattern of the factor; each is given with all that
    /// stand above it. False at the first pivot that is not positive.
    pub(crate) fn factor_at(&self, places: &[u32], matrix: &mut Factor) -> bool {
        for &k in places {
            let (start, end) = (self.factor_start[k as usize] as usize, self.factor_start[k as usize + 1] as usize);
            let pivot = matrix.diagonal[k as usize];
            if pivot.is_nan() || pivot <= 0.0 {
                return false;
            }
            for l in start..end {
                let (row, entry) = (self.factor_row[l], matrix.lower[l]);
                let share = entry / pivot;
                matrix.diagonal[row as usize] -= entry * share;
                for m in l + 1..end {
                    let at = self.entry(row, self.factor_row[m]);
                    matrix.lower[at] -= share * matrix.lower[m];
                }
                // The entries after this one are still those of the matrix.
                matrix.lower[l] = share;
            }
        }
        true
    }

    /// The parent in the elimination tree.
    pub(crate) fn above(&self, k: u32) -> u32 {
        let start = self.factor_start[k as usize];
        if start < self.factor_start[k as usize + 1] { self.factor_row[start as usize] } else { NONE }
    }

    /// The part of L⁻¹ (e_a − e_b) below the trunk of the elimination tree, appended to `column`, and what of it reaches the
    /// trunk before the trunk is eliminated, appended to `shares`. `x` is all zero before and after.
    pub(crate) fn climb_limbs(
        &self,
        factor: &Factor,
        (a, b): (u32, u32),
        below: impl Fn(u32) -> bool,
        x: &mut [f64],
        column: &mut Vec<(u32, f64)>,
        shares: &mut Vec<(u32, f64)>,
    ) {
        x[a as usize] += 1.0;
        x[b as usize] -= 1.0;
        let (mut p, mut q) = (a, b);
        let mut reached: Vec<u32> = [a, b].into_iter().filter(|&k| !below(k)).collect();
        let on_way = |k: u32| if k != NONE && below(k) { k } else { NONE };
        (p, q) = (on_way(p), on_way(q));
        while p != NONE || q != NONE {
            let k = p.min(q);
            let at = std::mem::take(&mut x[k as usize]);
            column.push((k, at));
            for l in self.factor_start[k as usize] as usize..self.factor_start[k as usize + 1] as usize {
                let row = self.factor_row[l];
                x[row as usize] -= factor.lower[l] * at;
                if !below(row) {
                    reached.push(row);
                }
            }
            let up = on_way(self.above(k));
            if p == k {
                p = up;
            }
            if q == k {
                q = up;
            }
        }
        reached.sort_unstable();
        reached.dedup();
        shares.extend(reached.into_iter().map(|k| (k, std::mem::take(&mut x[k as usize]))).filter(|&(_, share)| share != 0.0));
    }

    /// L⁻¹ (e_a − e_b), or L⁻¹ e_a without a `b`, as ascending places and values appended to `column`.
    ///
    /// Only the ways from the two rows to the root of the elimination tree are touched. `x` is all zero before and after.
    pub(crate) fn climb(&self, factor: &Factor, a: u32, b: Option<u32>, x: &mut [f64], column: &mut Vec<(u32, f64)>) {
        let (mut p, mut q) = (a, b.unwrap_or(NONE));
        x[a as usize] += 1.0;
        if let Some(b) = b {
            x[b as usize] -= 1.0;
        }
        while p != NONE || q != NONE {
            let k = p.min(q);
            let at = std::mem::take(&mut x[k as usize]);
            column.push((k, at));
            for l in self.factor_start[k as usize] as usize..self.factor_start[k as usize + 1] as usize {
                x[self.factor_row[l] as usize] -= factor.lower[l] * at;
            }
            let up = self.above(k);
            if p == k {
                p = up;
            }
            if q == k {
                q = up;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of four nodes with a tail, 1 S each, and 1 S from the first node to zero. The matrix of all places is the one that was factored, and factoring it
    /// gives the factor back; with one conductance more in it, it solves as the matrix with that conductance does.
    #[test]
    fn a_factor_multiplied_out_and_factored_anew_is_the_same() {
        let pairs = [(0u32, 1u32), (1, 2), (2, 3), (3, 0), (3, 4)];
        let pattern = Pattern::new(5, &pairs);
        let (diagonal, slots) = (pattern.diagonal_slots(), pattern.pair_slots(&pairs));
        let filled = |more: f64| {
            let mut values = vec![0.0; pattern.slots()];
            for (at, &(a, b)) in pairs.iter().enumerate() {
                let g = if at == 1 { 1.0 + more } else { 1.0 };
                values[diagonal[a as usize] as usize] += g;
                values[diagonal[b as usize] as usize] += g;
                values[slots[at] as usize] -= g;
            }
            values[diagonal[0] as usize] += 1.0;
            values
        };
        let (mut factor, mut wanted) = (pattern.factor(), pattern.factor());
        pattern.refactor(&filled(0.0), &mut factor).expect("positive");
        pattern.refactor(&filled(0.5), &mut wanted).expect("positive");
        let places: Vec<u32> = (0..5).collect();
        let mut matrix = pattern.multiplied(&factor, &places);
        let near = |one: &[f64], other: &[f64]| one.iter().zip(other).all(|(a, b)| (a - b).abs() < 1e-14);
        let mut again = matrix.clone();
        assert!(pattern.factor_at(&places, &mut again));
        assert!(near(&again.diagonal, &factor.diagonal) && near(&again.lower, &factor.lower));
        let [a, b] = [1, 2].map(|node| pattern.place()[node]);
        matrix.diagonal[a as usize] += 0.5;
        matrix.diagonal[b as usize] += 0.5;
        let at = pattern.entry(a.min(b), a.max(b));
        matrix.lower[at] -= 0.5;
        assert!(pattern.factor_at(&places, &mut matrix));
        assert!(near(&matrix.diagonal, &wanted.diagonal) && near(&matrix.lower, &wanted.lower));
        matrix.diagonal[0] = -1.0;
        assert!(!pattern.factor_at(&places, &mut matrix), "a pivot that is not positive is said");
    }
}
