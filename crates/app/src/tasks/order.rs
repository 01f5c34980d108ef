//! Colour order: every way of sorting, side by side.

use arcwright_model::feed::order::{OrderChance, OrderTask, Sorter, order_chance};
use arcwright_model::finding::Finding;
use arcwright_model::project::Project;

/// What each way of sorting gives.
pub struct Ordered {
    /// Names of the colours.
    pub colours: Vec<String>,
    /// The task.
    pub task: OrderTask,
    /// Ways of sorting, simplest first.
    pub ways: Vec<Way>,
}

/// One way of sorting.
pub struct Way {
    /// The sorter.
    pub sorter: Sorter,
    /// As the file has it.
    pub found: OrderChance,
    /// With a sensor that never errs.
    pub sure_frac: f64,
}

/// Ways that are built, simplest first.
const WAYS: [Sorter; 4] = [
    Sorter::Queue,
    Sorter::Pockets(1),
    Sorter::Pockets(2),
    Sorter::Carousel,
];

/// A name for tables and JSON.
pub fn word(sorter: Sorter) -> String {
    match sorter {
        Sorter::Queue => "none".into(),
        Sorter::Pockets(1) => "one pocket".into(),
        Sorter::Pockets(n) => format!("{n} pockets"),
        Sorter::Carousel => "carousel".into(),
    }
}

/// Works out every way.
///
/// # Errors
/// `no-order` where the project asks for none.
pub fn ordered(project: &Project, seed: u64) -> Result<Ordered, Finding> {
    let (colours, task) = project.order_task()?.ok_or_else(|| {
        Finding::new(
            "no-order",
            "order",
            "the project asks for no order of colours",
            "write a table [order] with `stock = \"8 amber, 8 teal, 8 plum\"` and `wanted = \"amber, teal, plum\"`",
        )
    })?;
    let sure = OrderTask {
        sensor_error_frac: 0.0,
        ..task.clone()
    };
    let ways = WAYS
        .iter()
        .map(|&sorter| Way {
            sorter,
            found: order_chance(&task, sorter, seed),
            sure_frac: order_chance(&sure, sorter, seed).whole_frac,
        })
        .collect();
    Ok(Ordered { colours, task, ways })
}
