//! Nodes of a curve and weighted sums of them.

/// One mean code at one position in one direction.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Node {
    pub travel: f64,
    pub code: f64,
    /// (travel, code) of each visit.
    pub visits: Vec<(f64, f64)>,
    /// Variance of the code from the noise within the visits; `None` when they cannot tell.
    pub within: Option<f64>,
    pub rounding: f64,
}

/// A weighted sum of nodes.
pub(crate) type Row = Vec<(usize, f64)>;

/// Values over travel that are weighted sums of nodes, with the standard deviation of each.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Series {
    /// % of travel, growing.
    pub travel: Vec<f64>,
    /// Codes.
    pub value: Vec<f64>,
    /// Standard uncertainty of each value.
    pub sd: Vec<f64>,
    /// Standard uncertainty of each node.
    pub node_sd: Vec<f64>,
    /// Standard uncertainty of each value from that of its position, common to all nodes there.
    pub position: Vec<f64>,
    pub rows: Vec<Row>,
}

impl Series {
    /// The noise of the values from the noise of the nodes.
    pub fn noise(&self, nodes: &[f64]) -> Vec<f64> {
        let at = |i: &usize| nodes.get(*i).copied().unwrap_or(f64::NAN);
        self.rows
            .iter()
            .map(|row| row.iter().map(|(i, w)| w * at(i)).sum())
            .collect()
    }
}

/// `a` times one row plus `b` times another.
pub(crate) fn sum(one: &Row, a: f64, other: &Row, b: f64) -> Row {
    one.iter()
        .map(|&(i, w)| (i, a * w))
        .chain(other.iter().map(|&(i, w)| (i, b * w)))
        .fold(Row::new(), |mut row, (i, w)| {
            match row.iter_mut().find(|known| known.0 == i) {
                Some(known) => known.1 += w,
                None => row.push((i, w)),
            }
            row
        })
}
