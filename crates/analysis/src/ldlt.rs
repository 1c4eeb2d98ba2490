//! Sparse LDLᵀ on a fixed pattern: ordered and analysed once, refactored for every state.
//!
//! The matrix is the nodal conductance matrix: symmetric, and positive definite exactly where the operating point is the
//! true one, so no pivoting is needed and a pivot that is not positive is an answer, not an accident.
//!
//! # Source  T. A. Davis, Direct Methods for Sparse Linear Systems (SIAM 2006), section 4 and the up-looking LDLᵀ of
//! ACM TOMS algorithm 849 [from memory]; ordering by the `amd` crate. Held in tests against dense elimination and
//! against faer's sparse LLᵀ.

/// Pattern of a symmetric matrix with its order and the pattern of its factor.
#[derive(Clone, Debug)]
pub(crate) struct Pattern {
    n: usize,
    /// Row `k` of the permuted matrix is row `order[k]` of the user's.
    order: Vec<u32>,
    /// Row `i` of the user's matrix is row `place[i]` of the permuted one.
    place: Vec<u32>,
    /// Slots of the upper triangle by permuted column; the diagonal is the last slot of each column.
    column_start: Vec<u32>,
    row: Vec<u32>,
    /// Rows of the factor: for each row `k` the columns that it has entries in, in an order that respects the tree.
    row_start: Vec<u32>,
    row_columns: Vec<u32>,
    /// Columns of the factor.
    pub(crate) factor_start: Vec<u32>,
    pub(crate) factor_row: Vec<u32>,
}

/// Numbers of one factorisation; reused.
#[derive(Clone, Debug, Default)]
pub(crate) struct Factor {
    pub(crate) lower: Vec<f64>,
    /// Pivots, in the order of elimination.
    pub(crate) diagonal: Vec<f64>,
    scratch: Vec<f64>,
    filled: Vec<u32>,
}

const NONE: u32 = u32::MAX;
/// Rows below one in the elimination tree, itself with them, up to which it is no part of the top: those of a feed with its contacts and its return, and a few more.
const FEW: u32 = 32;

impl Pattern {
    /// Orders and analyses a matrix of `n` rows with the given off-diagonal pairs (repetition allowed, `a ≠ b`).
    ///
    /// Cost: near linear for vehicle networks, whose factor has about two entries a column.
    pub(crate) fn new(n: usize, pairs: &[(u32, u32)]) -> Pattern {
        let (order, place) = order(n, pairs);
        let (column_start, row) = upper_columns(n, pairs.iter().map(|&(a, b)| (place[a as usize], place[b as usize])));

        // Elimination tree and row patterns in one sweep.
        let mut parent = vec![NONE; n];
        let mut flag = vec![NONE; n];
        let mut row_start = vec![0u32; n + 1];
        let mut row_columns = Vec::new();
        let mut count = vec![0u32; n];
        let (mut path, mut reach) = (Vec::new(), Vec::new());
        for k in 0..n as u32 {
            flag[k as usize] = k;
            reach.clear();
            for &start in &row[column_start[k as usize] as usize..column_start[k as usize + 1] as usize] {
                let mut i = start;
                path.clear();
                while flag[i as usize] != k {
                    if parent[i as usize] == NONE {
                        parent[i as usize] = k;
                    }
                    path.push(i);
                    flag[i as usize] = k;
                    count[i as usize] += 1;
                    i = parent[i as usize];
                }
                // Later paths are descendants' branches that join earlier ones higher up: they come first.
                reach.extend(path.iter().rev());
            }
            row_columns.extend(reach.iter().rev());
            row_start[k as usize + 1] = row_columns.len() as u32;
        }
        let mut factor_start = vec![0u32; n + 1];
        for k in 0..n {
            factor_start[k + 1] = factor_start[k] + count[k];
        }
        let mut filled = factor_start.clone();
        let mut factor_row = vec![0u32; factor_start[n] as usize];
        for k in 0..n {
            for &i in &row_columns[row_start[k] as usize..row_start[k + 1] as usize] {
                factor_row[filled[i as usize] as usize] = k as u32;
                filled[i as usize] += 1;
            }
        }
        Pattern { n, order, place, column_start, row, row_start, row_columns, factor_start, factor_row }
    }

    /// Number of slots of the matrix.
    pub(crate) fn slots(&self) -> usize {
        self.row.len()
    }

    /// Slots of the diagonals, by the user's row number.
    pub(crate) fn diagonal_slots(&self) -> Vec<u32> {
        let mut slots = vec![0; self.n];
        for (k, &node) in self.order.iter().enumerate() {
            slots[node as usize] = self.column_start[k + 1] - 1;
        }
        slots
    }

    /// The slot of each pair, in the order given to [`Pattern::new`] or a part of it.
    pub(crate) fn pair_slots(&self, pairs: &[(u32, u32)]) -> Vec<u32> {
        let slot = |&(a, b): &(u32, u32)| {
            let (a, b) = (self.place[a as usize], self.place[b as usize]);
            let (column, row) = (a.max(b) as usize, a.min(b));
            let start = self.column_start[column] as usize;
            let rows = &self.row[start..self.column_start[column + 1] as usize];
            (start + rows.binary_search(&row).expect("pair: was in the pattern")) as u32
        };
        pairs.iter().map(slot).collect()
    }

    /// Room for a factor of this pattern.
    pub(crate) fn factor(&self) -> Factor {
        Factor { lower: vec![0.0; self.factor_row.len()], diagonal: vec![0.0; self.n], scratch: vec![0.0; self.n], filled: vec![0; self.n] }
    }

    /// Factors the matrix whose slots hold `values`. `Err` names the user's row of the first pivot that is not positive.
    pub(crate) fn refactor(&self, values: &[f64], factor: &mut Factor) -> Result<(), usize> {
        let Factor { lower, diagonal, scratch, filled } = factor;
        filled.copy_from_slice(&self.factor_start[..self.n]);
        let mut start = 0;
        for k in 0..self.n {
            let end = self.column_start[k + 1] as usize;
            for (&row, value) in self.row[start..end].iter().zip(&values[start..end]) {
                scratch[row as usize] += value;
            }
            let own = values[end - 1];
            start = end;
            let mut pivot = scratch[k];
            scratch[k] = 0.0;
            for &i in &self.row_columns[self.row_start[k] as usize..self.row_start[k + 1] as usize] {
                let i = i as usize;
                let y = scratch[i];
                scratch[i] = 0.0;
                let (from, to) = (self.factor_start[i] as usize, filled[i] as usize);
                for (l, &row) in lower[from..to].iter().zip(&self.factor_row[from..to]) {
                    scratch[row as usize] -= l * y;
                }
                let l = y / diagonal[i];
                pivot -= l * y;
                lower[to] = l;
                filled[i] = to as u32 + 1;
            }
            // A pivot that is rounding noise of its own diagonal is no pivot.
            if pivot.is_nan() || pivot <= 1e-14 * own.abs() {
                scratch.fill(0.0);
                return Err(self.order[k] as usize);
            }
            diagonal[k] = pivot;
        }
        Ok(())
    }

    /// Solves in place for a right-hand side in the user's numbering.
    pub(crate) fn solve(&self, factor: &mut Factor, rhs: &mut [f64]) {
        let mut x = std::mem::take(&mut factor.scratch);
        for (x, &node) in x.iter_mut().zip(&self.order) {
            *x = rhs[node as usize];
        }
        self.forward(factor, &mut x);
        self.backward(factor, &mut x);
        for (x, &node) in x.iter().zip(&self.order) {
            rhs[node as usize] = *x;
        }
        x.fill(0.0);
        factor.scratch = x;
    }

    /// Place of each of the user's rows in the order of elimination, in which the following work.
    pub(crate) fn place(&self) -> &[u32] {
        &self.place
    }

    /// The user's row at each place.
    pub(crate) fn order(&self) -> &[u32] {
        &self.order
    }

    /// x ← L⁻¹ x.
    pub(crate) fn forward(&self, factor: &Factor, x: &mut [f64]) {
        let mut start = 0;
        for (k, &end) in self.factor_start[1..].iter().enumerate() {
            let at = x[k];
            if at != 0.0 {
                for (l, &row) in factor.lower[start..end as usize].iter().zip(&self.factor_row[start..end as usize]) {
                    x[row as usize] -= l * at;
                }
            }
            start = end as usize;
        }
    }

    pub(crate) fn forward_one(&self, factor: &Factor, k: usize, x: &mut [f64]) {
        let at = x[k];
        if at != 0.0 {
            let (start, end) = (self.factor_start[k] as usize, self.factor_start[k + 1] as usize);
            for (l, &row) in factor.lower[start..end].iter().zip(&self.factor_row[start..end]) {
                x[row as usize] -= l * at;
            }
        }
    }

    /// x ← L⁻ᵀ D⁻¹ x.
    pub(crate) fn backward(&self, factor: &Factor, x: &mut [f64]) {
        let mut end = self.factor_row.len();
        for ((k, &start), diagonal) in self.factor_start[..self.n].iter().enumerate().zip(&factor.diagonal).rev() {
            let start = start as usize;
            let mut at = x[k] / diagonal;
            for (l, &row) in factor.lower[start..end].iter().zip(&self.factor_row[start..end]) {
                at -= l * x[row as usize];
            }
            x[k] = at;
            end = start;
        }
    }
}

/// Upper triangle with its diagonal by columns, sorted and without repetition: starts of the columns, and rows.
fn upper_columns(n: usize, pairs: impl Iterator<Item = (u32, u32)>) -> (Vec<u32>, Vec<u32>) {
    let mut entries: Vec<(u32, u32)> = pairs.map(|(a, b)| (a.max(b), a.min(b))).chain((0..n as u32).map(|k| (k, k))).collect();
    entries.sort_unstable();
    entries.dedup();
    let mut start = vec![0u32; n + 1];
    for &(column, _) in &entries {
        start[column as usize + 1] += 1;
    }
    for k in 0..n {
        start[k + 1] += start[k];
    }
    (start, entries.into_iter().map(|(_, row)| row).collect())
}

/// Fill-reducing order: `(order, place)` with `order[k]` the user's row at place `k`. Rows that few others hang on go first: the top of the elimination tree,
/// which every solution passes, then lies in one piece. The factor has as many entries either way, since every row still comes after those that hang on it.
fn order(n: usize, pairs: &[(u32, u32)]) -> (Vec<u32>, Vec<u32>) {
    let (order, place) = fill_reducing(n, pairs);
    let (start, rows) = upper_columns(n, pairs.iter().map(|&(a, b)| (place[a as usize], place[b as usize])));
    let (mut parent, mut root) = (vec![NONE; n], vec![NONE; n]);
    for k in 0..n as u32 {
        for &row in &rows[start[k as usize] as usize..start[k as usize + 1] as usize - 1] {
            let mut at = row;
            while at != k {
                let up = std::mem::replace(&mut root[at as usize], k);
                if up == NONE {
                    parent[at as usize] = k;
                    break;
                }
                at = up;
            }
        }
    }
    let mut hang_on = vec![1u32; n];
    for k in 0..n {
        if parent[k] != NONE {
            hang_on[parent[k] as usize] += hang_on[k];
        }
    }
    let (few, many): (Vec<usize>, Vec<usize>) = (0..n).partition(|&k| hang_on[k] <= FEW);
    let order: Vec<u32> = few.into_iter().chain(many).map(|k| order[k]).collect();
    let mut place = vec![0; n];
    for (&row, k) in order.iter().zip(0..) {
        place[row as usize] = k;
    }
    (order, place)
}

fn fill_reducing(n: usize, pairs: &[(u32, u32)]) -> (Vec<u32>, Vec<u32>) {
    let (start, rows) = upper_columns(n, pairs.iter().copied());
    let wide = |values: Vec<u32>| -> Vec<i64> { values.into_iter().map(i64::from).collect() };
    let (p, inverse, _) =
        amd::order(n as i64, &wide(start), &wide(rows), &amd::Control::default()).expect("pattern: sorted columns, rows in range");
    (p.into_iter().map(|x| x as u32).collect(), inverse.into_iter().map(|x| x as u32).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A small deterministic generator: the tests need variety, not quality.
    struct Dice(u64);
    impl Dice {
        fn next(&mut self) -> u64 {
            self.0 = self.0.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            self.0 >> 33
        }
        fn below(&mut self, n: usize) -> usize {
            (self.next() % n as u64) as usize
        }
        fn unit(&mut self) -> f64 {
            self.next() as f64 / (1u64 << 31) as f64
        }
    }

    /// Conductances of a random connected network with every node also tied to ground.
    fn network(n: usize, extra: usize, dice: &mut Dice) -> Vec<(u32, u32, f64)> {
        let mut edges: Vec<(u32, u32, f64)> = (1..n).map(|k| (dice.below(k) as u32, k as u32, 0.01 + 100.0 * dice.unit())).collect();
        for _ in 0..extra {
            let (a, b) = (dice.below(n) as u32, dice.below(n) as u32);
            if a != b {
                edges.push((a, b, 0.01 + 100.0 * dice.unit()));
            }
        }
        edges
    }

    /// The top of the tree comes last, in one piece, and the factor has as many entries as elimination in the fill-reducing order alone makes, told by
    /// joining the neighbours of each row as it goes.
    #[test]
    fn the_top_of_the_tree_comes_last_and_costs_no_entries() {
        let (n, mut dice) = (400, Dice(5));
        let pairs: Vec<(u32, u32)> = network(n, 60, &mut dice).into_iter().map(|(a, b, _)| (a, b)).collect();
        let pattern = Pattern::new(n, &pairs);
        let mut hang_on = vec![1; n];
        for k in 0..n {
            if pattern.above(k as u32) != NONE {
                hang_on[pattern.above(k as u32) as usize] += hang_on[k];
            }
        }
        let first = hang_on.iter().position(|&rows| rows > FEW).expect("the tree has a top");
        assert!(first > 0 && hang_on[first..].iter().all(|&rows| rows > FEW));

        let (order, place) = fill_reducing(n, &pairs);
        let mut beside = vec![std::collections::BTreeSet::new(); n];
        for &(a, b) in &pairs {
            let (a, b) = (place[a as usize], place[b as usize]);
            beside[a as usize].insert(b);
            beside[b as usize].insert(a);
        }
        let mut entries = 0;
        for k in 0..order.len() {
            let after: Vec<u32> = beside[k].iter().copied().filter(|&other| other as usize > k).collect();
            entries += after.len();
            for &other in &after {
                beside[other as usize].extend(after.iter().filter(|&&third| third != other));
            }
        }
        assert_eq!(pattern.factor_row.len(), entries);
    }

    fn assemble(pattern: &Pattern, pairs: &[(u32, u32)], edges: &[(u32, u32, f64)]) -> Vec<f64> {
        let (diagonal, slot) = (pattern.diagonal_slots(), pattern.pair_slots(pairs));
        let mut values = vec![0.0; pattern.slots()];
        for (&(a, b, g), &slot) in edges.iter().zip(&slot) {
            values[diagonal[a as usize] as usize] += g;
            values[diagonal[b as usize] as usize] += g;
            values[slot as usize] -= g;
        }
        values[diagonal[0] as usize] += 1.0;
        values
    }

    fn dense_solve(n: usize, edges: &[(u32, u32, f64)], rhs: &[f64]) -> Vec<f64> {
        let mut a = vec![vec![0.0; n + 1]; n];
        a[0][0] += 1.0;
        for &(i, j, g) in edges {
            let (i, j) = (i as usize, j as usize);
            a[i][i] += g;
            a[j][j] += g;
            a[i][j] -= g;
            a[j][i] -= g;
        }
        for (row, &b) in a.iter_mut().zip(rhs) {
            row[n] = b;
        }
        for k in 0..n {
            let pivot = (k..n).max_by(|&x, &y| a[x][k].abs().total_cmp(&a[y][k].abs())).expect("rows left");
            a.swap(k, pivot);
            let above = a[k].clone();
            for row in a.iter_mut().skip(k + 1) {
                let f = row[k] / above[k];
                for (x, y) in row.iter_mut().zip(&above).skip(k) {
                    *x -= f * y;
                }
            }
        }
        let mut x = vec![0.0; n];
        for k in (0..n).rev() {
            let tail: f64 = (k + 1..n).map(|j| a[k][j] * x[j]).sum();
            x[k] = (a[k][n] - tail) / a[k][k];
        }
        x
    }

    #[test]
    fn agrees_with_dense_elimination() {
        let mut dice = Dice(7);
        for n in [1, 2, 3, 8, 40, 90] {
            for extra in [0, 1, n / 3, n] {
                let edges = network(n, extra, &mut dice);
                let pairs: Vec<_> = edges.iter().map(|&(a, b, _)| (a, b)).collect();
                let pattern = Pattern::new(n, &pairs);
                let mut factor = pattern.factor();
                pattern.refactor(&assemble(&pattern, &pairs, &edges), &mut factor).expect("positive definite");
                let rhs: Vec<f64> = (0..n).map(|_| dice.unit() - 0.5).collect();
                let mut x = rhs.clone();
                pattern.solve(&mut factor, &mut x);
                for (got, want) in x.iter().zip(dense_solve(n, &edges, &rhs)) {
                    assert!((got - want).abs() <= 1e-9 * (1.0 + want.abs()), "n {n}: {got} against {want}");
                }
            }
        }
    }

    /// faer's sparse Cholesky as second oracle on a network of 2,000 nodes.
    #[test]
    fn agrees_with_faer() {
        use faer::linalg::solvers::Solve;
        use faer::sparse::{SparseColMat, Triplet};
        let mut dice = Dice(11);
        let n = 2000;
        let edges = network(n, 300, &mut dice);
        let pairs: Vec<_> = edges.iter().map(|&(a, b, _)| (a, b)).collect();
        let pattern = Pattern::new(n, &pairs);
        let mut factor = pattern.factor();
        pattern.refactor(&assemble(&pattern, &pairs, &edges), &mut factor).expect("positive definite");
        let rhs: Vec<f64> = (0..n).map(|_| dice.unit() - 0.5).collect();
        let mut x = rhs.clone();
        pattern.solve(&mut factor, &mut x);
        let mut triplets = vec![Triplet::new(0usize, 0usize, 1.0)];
        for &(a, b, g) in &edges {
            let (a, b) = (a as usize, b as usize);
            triplets.extend([Triplet::new(a, a, g), Triplet::new(b, b, g), Triplet::new(a, b, -g), Triplet::new(b, a, -g)]);
        }
        let matrix = SparseColMat::<usize, f64>::try_new_from_triplets(n, n, &triplets).expect("in range");
        let reference = matrix.sp_cholesky(faer::Side::Lower).expect("positive definite").solve(faer::Col::from_fn(n, |i| rhs[i]));
        for (i, got) in x.iter().enumerate() {
            assert!((got - reference[i]).abs() <= 1e-9 * (1.0 + reference[i].abs()));
        }
    }

    #[test]
    fn a_pivot_that_is_not_positive_names_its_row() {
        let pairs = [(0, 1)];
        let pattern = Pattern::new(2, &pairs);
        let mut factor = pattern.factor();
        let mut values = assemble(&pattern, &pairs, &[(0, 1, 1.0)]);
        values[pattern.diagonal_slots()[1] as usize] -= 0.4;
        assert_eq!(pattern.refactor(&values, &mut factor), Ok(()));
        values[pattern.diagonal_slots()[1] as usize] -= 0.2;
        assert!(pattern.refactor(&values, &mut factor).is_err());
    }
}
