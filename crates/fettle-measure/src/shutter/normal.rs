//! Normal equations of least squares, summed row by row.

use nalgebra::{DMatrix, DVector};

/// Adds one row: `weight · row · rowᵀ` to the lower triangle and diagonal of `normal`, `weight · value · row` to `right`.
/// Both are as large as the row.
pub(super) fn add(
    normal: &mut DMatrix<f64>,
    right: &mut DVector<f64>,
    row: &[f64],
    weight: f64,
    value: f64,
) {
    // Slices, so that the compiler sums several places at once.
    let columns = normal.as_mut_slice().chunks_exact_mut(row.len().max(1));
    let right = right.as_mut_slice().iter_mut();
    for (j, (column, right)) in columns.zip(right).enumerate() {
        let (below, under) = (&mut column[j..], &row[j..]);
        let by = weight * row[j];
        *right += by * value;
        for (sum, it) in below.iter_mut().zip(under) {
            *sum += by * it;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_add_up_to_the_products_of_their_matrix() {
        let rows = [[1.0, 2.0, -3.0], [0.5, -1.0, 4.0]];
        let (mut normal, mut right) = (DMatrix::zeros(3, 3), DVector::zeros(3));
        for (row, (weight, value)) in rows.iter().zip([(2.0, 3.0), (1.0, -1.0)]) {
            add(&mut normal, &mut right, row, weight, value);
        }
        let matrix = DMatrix::from_fn(2, 3, |i, j| rows[i][j]);
        let weights = DMatrix::from_diagonal(&DVector::from_vec(vec![2.0, 1.0]));
        let all = matrix.transpose() * &weights * &matrix;
        assert_eq!(normal, all.lower_triangle());
        let values = DVector::from_vec(vec![3.0, -1.0]);
        assert_eq!(right, matrix.transpose() * weights * values);
    }
}
