//! Derivatives from differences.

/// Derivative of a vector-valued function by central differences with one Richardson extrapolation.
///
/// ```text
/// D(h) = (f(x + h) − f(x − h)) / 2h,     f' = (4 D(h/2) − D(h)) / 3 + O(h⁴)
/// ```
///
/// `None` when any of the four values is missing.
pub fn central_derivative<const N: usize>(
    mut f: impl FnMut(f64) -> Option<[f64; N]>,
    x: f64,
    step: f64,
) -> Option<[f64; N]> {
    let mut quotient = |h: f64| -> Option<[f64; N]> {
        let (above, below) = (f(x + h)?, f(x - h)?);
        Some(std::array::from_fn(|i| (above[i] - below[i]) / (2.0 * h)))
    };
    let coarse = quotient(step)?;
    let fine = quotient(0.5 * step)?;
    Some(std::array::from_fn(|i| (4.0 * fine[i] - coarse[i]) / 3.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halving_the_step_cuts_the_error_sixteenfold() {
        let error = |h: f64| central_derivative(|x| Some([x.exp()]), 1.0, h).unwrap()[0] - 1.0_f64.exp();
        let ratio = error(0.2) / error(0.1);
        assert!((15.0..17.0).contains(&ratio), "{ratio}");
    }

    #[test]
    fn a_missing_value_gives_none() {
        assert_eq!(central_derivative(|x| (x < 1.05).then_some([x]), 1.0, 0.1), None);
    }
}
