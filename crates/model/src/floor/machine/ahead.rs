//! Shots that were not thrown yet, as the fitted machine expects them.

use super::model::work_out;
use super::{Fitted, LATER_UNIT, LoggedShot};
use crate::floor::shot::Shot;

impl Fitted {
    /// Planned shots for [`crate::floor::Forward::predict`] of [`Fitted::machine`], with flights about the result.
    /// Their readings are not looked at, only which there are.
    ///
    /// `None` in place of a shot that the machine would not throw, or that would not come where it is to be seen.
    pub fn planned(&self, shots: &[Shot]) -> Vec<Option<LoggedShot>> {
        let numbered = |s: &Shot| -> Option<LoggedShot> {
            let mut one = work_out(&self.machine.chain, &[(0, s)]).ok()?;
            self.machine
                .anchor(&mut one, &self.posterior.mean, LATER_UNIT)
                .ok()?;
            one.pop()
        };
        let all: Vec<(usize, &Shot)> = shots.iter().enumerate().collect();
        // One exit curve serves all of a setting; where one shot spoils it for the rest each goes by itself.
        let together = work_out(&self.machine.chain, &all)
            .ok()
            .filter(|_| !all.is_empty());
        if let Some(mut made) = together
            && self
                .machine
                .anchor(&mut made, &self.posterior.mean, LATER_UNIT)
                .is_ok()
        {
            return made.into_iter().map(Some).collect();
        }
        shots.iter().map(numbered).collect()
    }
}
