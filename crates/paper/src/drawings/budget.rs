//! Error budget: which cause makes how much of the scatter, along and across, for each spot.

use arcwright_model::project::UnitSystem;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetPicture {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// The spots.
    pub spots: Vec<BudgetSpot>,
}

/// The budget of one spot.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetSpot {
    /// The spot.
    pub name: String,
    /// Standard deviation of the crossings along.
    pub along_sd_m: f64,
    /// Standard deviation of the crossings across.
    pub across_sd_m: f64,
    /// What makes them vary, in any order.
    pub causes: Vec<BudgetCause>,
}

/// One cause of scatter.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetCause {
    /// What varies.
    pub name: String,
    /// Its share of the variance along.
    pub along: Share,
    /// Its share of the variance across.
    pub across: Share,
}

/// Shares of a variance, each with its standard error.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Share {
    /// Of the cause by itself (first order).
    pub first_frac: f64,
    /// Standard error of that.
    pub first_se_frac: f64,
    /// Of the cause with all that comes only together with others (total order).
    pub total_frac: f64,
    /// Standard error of that.
    pub total_se_frac: f64,
}
