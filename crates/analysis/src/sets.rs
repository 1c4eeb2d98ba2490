//! What hangs together: disjoint sets, united two by two.

/// Disjoint sets of the numbers below a count: union-find with path halving.
#[derive(Clone, Debug)]
pub struct Sets {
    parent: Vec<u32>,
}

impl Sets {
    /// Every number in a set of its own.
    pub fn new(len: usize) -> Sets {
        Sets { parent: (0..len as u32).collect() }
    }

    /// The number that stands for a set.
    pub fn find(&mut self, mut at: usize) -> usize {
        while self.parent[at] as usize != at {
            let up = self.parent[self.parent[at] as usize];
            self.parent[at] = up;
            at = up as usize;
        }
        at
    }

    /// Unites two sets; whether they were two. The lower number stands for both, so that the order of uniting never shows.
    pub fn unite(&mut self, a: usize, b: usize) -> bool {
        let (a, b) = (self.find(a), self.find(b));
        self.parent[a.max(b)] = a.min(b) as u32;
        a != b
    }

    /// Makes every search after this one a single step: who stands for a set is its lowest number, so that of each number the one above it
    /// is settled before it.
    pub(crate) fn flatten(&mut self) {
        for at in 0..self.parent.len() {
            self.parent[at] = self.parent[self.parent[at] as usize];
        }
    }

    /// Of each number the one that stands for its set.
    pub fn finish(mut self) -> Vec<u32> {
        self.flatten();
        self.parent
    }
}
