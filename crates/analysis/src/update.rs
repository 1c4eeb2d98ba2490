//! A factored matrix with a few branches changed: J + Σ Δg u uᵀ, solved on the factor of J.
//!
//! With W = L⁻¹U, G = WᵀD⁻¹W = UᵀJ⁻¹U and Δ = diag(Δg), the voltages across the changed branches for a right-hand side
//! b + U c are q = (I + GΔ)⁻¹(UᵀJ⁻¹b + G c), and the rest follows from J x = b + U(c − Δq). No inverse is formed, and a column
//! of W touches only the ways from its two nodes to the root of the elimination tree.
//!
//! # Source  Sherman, Morrison and Woodbury: W. W. Hager, Updating the inverse of a matrix, SIAM Review 31 (1989) 221–239
//! [from memory].

use crate::ldlt::{Factor, Pattern};

/// Most branches that one update may change: beyond it a factorisation is no dearer.
pub(crate) const MOST: usize = 64;

/// A branch of the update, by places in the order of elimination.
#[derive(Clone, Copy, Debug)]
struct Rank {
    a: u32,
    b: Option<u32>,
    more: f64,
    start: usize,
    end: usize,
}

/// The changed branches of one case; reused from case to case.
#[derive(Clone, Debug)]
pub(crate) struct Update {
    ranks: Vec<Rank>,
    /// The columns of W, one after the other.
    columns: Vec<(u32, f64)>,
    /// G by rows, `MOST` wide.
    gram: Vec<f64>,
    /// I + GΔ in triangles, and its row exchanges.
    triangles: Vec<f64>,
    exchange: Vec<usize>,
    weights: Vec<f64>,
    scratch: Vec<f64>,
    /// Least pivot of the triangles, as a share of its row: what cancellation has left.
    pub(crate) least_pivot: f64,
}

impl Update {
    pub(crate) fn new(n: usize) -> Update {
        Update {
            ranks: Vec::new(),
            columns: Vec::new(),
            gram: vec![0.0; MOST * MOST],
            triangles: Vec::new(),
            exchange: Vec::new(),
            weights: Vec::new(),
            scratch: vec![0.0; n],
            least_pivot: 1.0,
        }
    }

    pub(crate) fn clear(&mut self) {
        self.truncate(0);
    }

    /// Leaves the first branches as they are, and takes the others away.
    pub(crate) fn truncate(&mut self, ranks: usize) {
        self.ranks.truncate(ranks);
        self.columns.truncate(self.ranks.last().map_or(0, |rank| rank.end));
    }

    /// Adds a branch whose conductance grows by `more`; without a `b` it leads to zero. `None` if there is no room.
    pub(crate) fn add(&mut self, pattern: &Pattern, factor: &Factor, a: u32, b: Option<u32>, more: f64) -> Option<usize> {
        let new = self.climb(pattern, factor, a, b, more)?;
        self.multiply_last(factor, |_| None);
        Some(new)
    }

    /// The same, with its column of W alone. [`Update::multiply_last`] has to follow.
    pub(crate) fn climb(&mut self, pattern: &Pattern, factor: &Factor, a: u32, b: Option<u32>, more: f64) -> Option<usize> {
        let start = self.columns.len();
        let new = self.push(a, b, more)?;
        pattern.climb(factor, a, b, &mut self.scratch, &mut self.columns);
        (self.ranks[new].start, self.ranks[new].end) = (start, self.columns.len());
        Some(new)
    }

    /// The same without a column, for one whose column stands elsewhere. [`Update::multiply_last`] has to follow, and all that it asks for to be known.
    pub(crate) fn push(&mut self, a: u32, b: Option<u32>, more: f64) -> Option<usize> {
        let (new, end) = (self.ranks.len(), self.columns.len());
        (new < MOST).then(|| self.ranks.push(Rank { a, b, more, start: end, end }))?;
        Some(new)
    }

    /// The last row and column of G; `known` gives what is known of it, by the other branch.
    pub(crate) fn multiply_last(&mut self, factor: &Factor, mut known: impl FnMut(usize) -> Option<f64>) {
        let new = self.ranks.len() - 1;
        let own = self.ranks[new].start..self.ranks[new].end;
        let mut is_spread = false;
        for (row, rank) in self.ranks.iter().enumerate() {
            let dot = known(row).unwrap_or_else(|| {
                if !std::mem::replace(&mut is_spread, true) {
                    self.columns[own.clone()].iter().for_each(|&(k, w)| self.scratch[k as usize] = w / factor.diagonal[k as usize]);
                }
                self.columns[rank.start..rank.end].iter().map(|&(k, w)| w * self.scratch[k as usize]).sum()
            });
            self.gram[row * MOST + new] = dot;
            self.gram[new * MOST + row] = dot;
        }
        if is_spread {
            self.columns[own].iter().for_each(|&(k, _)| self.scratch[k as usize] = 0.0);
        }
    }

    /// The same branches on another factor. [`Update::triangulate`] has to follow.
    pub(crate) fn move_to(&mut self, pattern: &Pattern, factor: &Factor) {
        self.columns.clear();
        for Rank { a, b, more, .. } in std::mem::take(&mut self.ranks) {
            self.add(pattern, factor, a, b, more);
        }
    }

    /// Changes by how much a branch's conductance grows. [`Update::triangulate`] has to follow.
    pub(crate) fn set(&mut self, rank: usize, more: f64) {
        self.ranks[rank].more = more;
    }

    /// Gaussian elimination of I + GΔ with row exchanges. False where it is singular within rounding: a cut.
    pub(crate) fn triangulate(&mut self) -> bool {
        let n = self.ranks.len();
        self.triangles.clear();
        self.exchange.clear();
        let mut size = [0.0f64; MOST];
        for (row, size) in size.iter_mut().enumerate().take(n) {
            for (column, rank) in self.ranks.iter().enumerate() {
                let product = self.gram[row * MOST + column] * rank.more;
                let value = product + if row == column { 1.0 } else { 0.0 };
                // What cancels counts with what it was.
                *size = size.max(value.abs()).max(product.abs());
                self.triangles.push(value);
            }
        }
        self.least_pivot = 1.0;
        for k in 0..n {
            let share = |row: usize| self.triangles[row * n + k].abs() / size[row];
            let pivot = (k..n).max_by(|&a, &b| share(a).total_cmp(&share(b)).then(b.cmp(&a))).unwrap_or(k);
            self.least_pivot = self.least_pivot.min(share(pivot));
            if self.least_pivot.is_nan() || self.least_pivot < 1e-13 {
                return false;
            }
            self.exchange.push(pivot);
            size.swap(k, pivot);
            let (above, below) = self.triangles.split_at_mut((k + 1) * n);
            let top = &mut above[k * n..];
            if pivot > k {
                top.swap_with_slice(&mut below[(pivot - k - 1) * n..][..n]);
            }
            for row in below.chunks_exact_mut(n) {
                let factor = row[k] / top[k];
                row[k] = factor;
                for (at, &of) in row[k + 1..].iter_mut().zip(&top[k + 1..]) {
                    *at -= factor * of;
                }
            }
        }
        true
    }

    /// Adds to `x`, which holds L⁻¹b, what the changed branches and the currents `c` driven through them make of it, so that
    /// [`Pattern::backward`] then gives the solution. `b` says whether `x` is anything but zero.
    pub(crate) fn apply(&mut self, factor: &Factor, c: &[f64], b: bool, x: &mut [f64]) {
        self.weigh(factor, c, b.then_some(&*x));
        for (rank, &weight) in self.ranks.iter().zip(&self.weights) {
            if weight != 0.0 {
                for &(k, w) in &self.columns[rank.start..rank.end] {
                    x[k as usize] += weight * w;
                }
            }
        }
    }

    /// The currents c − Δq that stand for the changed branches, for [`Update::weight`]; `x` holds L⁻¹b.
    pub(crate) fn weigh(&mut self, factor: &Factor, c: &[f64], x: Option<&[f64]>) {
        let n = self.ranks.len();
        let mut q = [0.0f64; MOST];
        for (row, rank) in self.ranks.iter().enumerate() {
            let own = x.map_or(0.0, |x| {
                self.columns[rank.start..rank.end].iter().map(|&(k, w)| w * x[k as usize] / factor.diagonal[k as usize]).sum()
            });
            let driven: f64 = c.iter().take(n).enumerate().map(|(column, c)| self.gram[row * MOST + column] * c).sum();
            q[row] = own + driven;
        }
        for (k, &pivot) in self.exchange.iter().enumerate() {
            q.swap(k, pivot);
        }
        let before = |row: usize, run: std::ops::Range<usize>, q: &[f64]| -> f64 {
            self.triangles[row * n..][run.clone()].iter().zip(&q[run]).map(|(of, q)| of * q).sum()
        };
        for row in 0..n {
            q[row] -= before(row, 0..row, &q);
        }
        for row in (0..n).rev() {
            q[row] = (q[row] - before(row, row + 1..n, &q)) / self.triangles[row * n + row];
        }
        self.weights.clear();
        self.weights.extend(self.ranks.iter().zip(c).zip(q).map(|((rank, c), q)| c - rank.more * q));
    }

    /// Resistance that the unchanged matrix shows between the ends of a branch.
    pub(crate) fn seen(&self, rank: usize) -> f64 {
        self.gram[rank * MOST + rank]
    }

    /// L⁻¹u of a branch: ascending places and values.
    pub(crate) fn column(&self, rank: usize) -> impl Iterator<Item = (u32, f64)> + '_ {
        self.columns[self.ranks[rank].start..self.ranks[rank].end].iter().copied()
    }

    /// Takes the last branch away again.
    pub(crate) fn remove_last(&mut self) {
        self.truncate(self.ranks.len().saturating_sub(1));
    }

    /// uᵀJ⁻¹u between two branches: the voltage across one for each ampere through the other.
    pub(crate) fn between(&self, one: usize, other: usize) -> f64 {
        self.gram[one * MOST + other]
    }

    /// Current that the last solution drove through a branch beside what the unchanged matrix has in it.
    pub(crate) fn weight(&self, rank: usize) -> f64 {
        self.weights[rank]
    }

    /// Places of a branch's ends.
    pub(crate) fn ends(&self, rank: usize) -> (u32, Option<u32>) {
        (self.ranks[rank].a, self.ranks[rank].b)
    }

    /// Adds a current through a branch, from its `a` to its `b`, to a right-hand side.
    pub(crate) fn drive(&self, rank: usize, current: f64, x: &mut [f64]) {
        let Rank { a, b, .. } = self.ranks[rank];
        x[a as usize] += current;
        if let Some(b) = b {
            x[b as usize] -= current;
        }
    }

    /// Value of `x` across a branch.
    pub(crate) fn across(&self, rank: usize, x: &[f64]) -> f64 {
        let Rank { a, b, .. } = self.ranks[rank];
        x[a as usize] - b.map_or(0.0, |b| x[b as usize])
    }
}
