//! Up to four linear equations.
//!
//! Belongs here: their solution. Does not belong here: where they come from.

/// Gauss elimination with row exchange of the leading `size` (1 ..= 4) equations; the right side stands in column 4.
///
/// `None` when a pivot is below 1e-9: scale the unknowns so that the equations are of the order of 1.
pub(crate) fn solve(mut rows: [[f64; 5]; 4], size: usize) -> Option<[f64; 4]> {
    for column in 0..size {
        let pivot = (column..size)
            .max_by(|a, b| rows[*a][column].abs().total_cmp(&rows[*b][column].abs()))?;
        rows.swap(column, pivot);
        let lead = rows[column];
        if lead[column].abs() < 1e-9 {
            return None;
        }
        for row in rows.iter_mut().take(size).skip(column + 1) {
            let factor = row[column] / lead[column];
            for (cell, lead) in row.iter_mut().zip(lead) {
                *cell -= factor * lead;
            }
        }
    }
    let mut terms = [0.0; 4];
    for row in (0..size).rev() {
        let known: f64 = (row + 1..size).map(|k| rows[row][k] * terms[k]).sum();
        terms[row] = (rows[row][4] - known) / rows[row][row];
    }
    Some(terms)
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
        assert_eq!(
            solve(rows([1.0, 3.0]), 2).map(|t| [t[0], t[1]]),
            Some([2.0, 1.0])
        );
        assert_eq!(
            solve(rows([0.0, 1.0]), 2).map(|t| [t[0], t[1]]),
            Some([2.0, 1.0])
        );
        assert_eq!(solve(rows([-1.0, 1.0]), 2), None);
    }
}
