//! Which wires lead to a modelled element at both ends.

use crate::Prepared;
use model::*;

impl Prepared<'_> {
    /// Of each wire, whether it leads to a modelled element at both ends; one that does not may have a load that is not modelled.
    ///
    /// Conductors that end where nothing else goes on are taken away, again and again; so are groups of parallel ones, which is
    /// why neighbours are counted and not conductors. What is left over in a part without any element carries nothing either.
    pub fn leads_to_elements(&self) -> &Column<Wire, bool> {
        self.leads.get_or_init(|| self.find_leads())
    }

    fn find_leads(&self) -> Column<Wire, bool> {
        let nodes = self.branches().iter().map(|b| b.from.row().max(b.to.row()) + 1).max().unwrap_or(0);
        let mut has_element = vec![false; nodes];
        // A tie to structure ends there on purpose: it is no loose end, though nothing but a fault may flow in it.
        let mut holds: Vec<bool> = vec![false; nodes];
        let earthed = self.design.grounds.ids().map(End::Ground);
        let earthed = earthed.chain(self.design.units.ids().map(End::Case)).chain(self.design.connectors.ids().map(End::Shell));
        for node in earthed.filter_map(|end| self.node(end)).filter(|node| node.row() < nodes) {
            holds[node.row()] = true;
        }
        let mut neighbours: Vec<Vec<usize>> = vec![Vec::new(); nodes];
        for branch in self.branches() {
            let (a, b) = (branch.from.row(), branch.to.row());
            if is_conductor(branch.element) {
                neighbours[a].push(b);
                neighbours[b].push(a);
            } else {
                for node in [a, b] {
                    has_element[node] = true;
                    holds[node] = true;
                }
            }
        }
        for list in &mut neighbours {
            list.sort_unstable();
            list.dedup();
        }
        let mut count: Vec<usize> = neighbours.iter().map(Vec::len).collect();
        let mut alive = vec![true; nodes];
        let mut ends: Vec<usize> = (0..nodes).filter(|&n| count[n] <= 1 && !holds[n]).collect();
        while let Some(node) = ends.pop() {
            alive[node] = false;
            for &next in neighbours[node].iter().filter(|&&next| alive[next]) {
                count[next] -= 1;
                if count[next] == 1 && !holds[next] {
                    ends.push(next);
                }
            }
        }
        // Loops of conductors without an element.
        let mut reached = has_element.clone();
        let mut open: Vec<usize> = (0..nodes).filter(|&n| reached[n]).collect();
        while let Some(node) = open.pop() {
            for &next in &neighbours[node] {
                if !reached[next] {
                    reached[next] = true;
                    open.push(next);
                }
            }
        }
        let live = |element| {
            self.branch_of(element).is_some_and(|row| {
                let branch = self.branches()[row];
                [branch.from, branch.to].iter().all(|n| alive[n.row()] && reached[n.row()])
            })
        };
        self.design.wires.ids().map(|id| live(ElementId::Wire(id))).collect()
    }
}

fn is_conductor(element: ElementId) -> bool {
    use ElementId::*;
    matches!(element, Wire(_) | Joint(..) | Shield(_) | Drain(_) | Strap(_) | StructurePath(_) | Contact(_) | Link(_))
}
