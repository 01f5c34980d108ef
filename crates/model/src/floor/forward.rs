//! What a model of the thrower must answer to be fitted to test shots.

use super::likelihood::Prediction;

/// One entry of the linear map from parameters to a shot's inputs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// Which input it adds to.
    pub input: usize,
    /// Which parameter it takes.
    pub parameter: usize,
    /// Times this.
    pub share_coeff: f64,
}

/// A forward model: from parameters to what is to be expected of one shot.
///
/// A shot sees the parameters through a few `inputs`, which are linear in the parameters: with many pieces,
/// sessions and volley places the parameters are many and the inputs few, and only the inputs cost flights.
pub trait Forward {
    /// A shot as this model needs it.
    type Shot;

    /// What is to be expected of a shot with these inputs; `None` when nothing can be said of such inputs.
    fn predict(&self, inputs: &[f64], shot: &Self::Shot) -> Option<Prediction>;

    /// As `predict` for several sets of inputs near each other, of which a model may share the work.
    fn predict_all(&self, inputs: &[Vec<f64>], shot: &Self::Shot) -> Vec<Option<Prediction>> {
        inputs.iter().map(|i| self.predict(i, shot)).collect()
    }

    /// How the inputs of a shot are made of parameters; `None` when they are the parameters.
    fn design(&self, shot: &Self::Shot) -> Option<Vec<Share>> {
        let _ = shot;
        None
    }

    /// How many inputs `predict` takes; only asked when `design` gives a map.
    fn input_count(&self) -> usize {
        0
    }

    /// The parameters that alone explain most, from which a second start is made: speed and elevation.
    fn leading(&self) -> &[usize] {
        &[]
    }
}

/// The inputs of a shot at these parameters.
pub fn inputs_of<F: Forward>(forward: &F, parameters: &[f64], shot: &F::Shot) -> Vec<f64> {
    match forward.design(shot) {
        None => parameters.to_vec(),
        Some(shares) => applied(&shares, forward.input_count(), parameters),
    }
}

/// The linear map applied; entries that point nowhere add nothing.
pub(super) fn applied(shares: &[Share], count: usize, parameters: &[f64]) -> Vec<f64> {
    let mut inputs = vec![0.0; count];
    for share in shares {
        if let (Some(input), Some(value)) = (inputs.get_mut(share.input), parameters.get(share.parameter)) {
            *input += share.share_coeff * value;
        }
    }
    inputs
}
