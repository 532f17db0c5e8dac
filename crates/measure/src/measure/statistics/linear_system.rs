//! Up to four linear equations.

use nalgebra::{Matrix4, Vector4};

/// Equations of up to four unknowns, one a row; the right side stands in column 4.
pub(crate) type Equations = [[f64; 5]; 4];

/// Solves the leading `size` (1 ..= 4) equations, the other unknowns are 0.
///
/// `None` when a pivot is below 1e-10 of the largest element: the unknowns cannot be told apart.
pub(crate) fn solve(rows: &Equations, size: usize) -> Option<[f64; 4]> {
    let used = |i: usize| i < size;
    let largest = rows[..size]
        .iter()
        .flat_map(|row| &row[..size])
        .fold(0.0, |most: f64, cell| most.max(cell.abs()));
    let matrix = Matrix4::from_fn(|i, j| match (used(i) && used(j), i == j) {
        (true, _) => rows[i][j] / largest,
        (false, same) => f64::from(u8::from(same)),
    });
    let right = Vector4::from_fn(|i, _| if used(i) { rows[i][4] / largest } else { 0.0 });
    let lu = matrix.lu();
    let clear = lu.u().diagonal().iter().all(|pivot| pivot.abs() > 1e-10);
    clear.then(|| lu.solve(&right))?.map(Into::into)
}

#[cfg(test)]
mod tests {
    use super::solve;

    #[test]
    fn hand_worked() {
        // x + y = 3, x - y = 1: x = 2, y = 1. The first pivot is found by row exchange in the second case.
        let rows = |first: [f64; 2]| {
            let mut rows = [[0.0; 5]; 4];
            rows[0] = [first[0], 1.0, 0.0, 0.0, first[1]];
            rows[1] = [1.0, -1.0, 0.0, 0.0, 1.0];
            rows
        };
        assert_eq!(solve(&rows([1.0, 3.0]), 2), Some([2.0, 1.0, 0.0, 0.0]));
        assert_eq!(solve(&rows([0.0, 1.0]), 2), Some([2.0, 1.0, 0.0, 0.0]));
        assert_eq!(solve(&rows([-1.0, 1.0]), 2), None);
        assert_eq!(solve(&[[0.0; 5]; 4], 2), None);
    }
}
