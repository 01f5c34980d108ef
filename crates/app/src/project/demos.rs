//! The projects that come with the program.

/// A project file built in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Demo {
    /// Word by which it is asked for.
    pub name: &'static str,
    /// One line about it.
    pub about: &'static str,
    /// The project file.
    pub text: &'static str,
}

/// The demo projects; the first is shown where there is no project.
pub const DEMOS: &[Demo] = &[
    Demo {
        name: "lantern",
        about: "perforated lanterns into a moored boat: one wheel, guide, hood with three knobs",
        text: include_str!("../../../../examples/lantern/arcwright.toml"),
    },
    Demo {
        name: "bramble",
        about: "foam balls through an upright hoop: two wheels, tilt by servo",
        text: include_str!("../../../../examples/bramble/arcwright.toml"),
    },
    Demo {
        name: "pebble",
        about: "small solid balls steeply into a round well: one wheel, high arc",
        text: include_str!("../../../../examples/pebble/arcwright.toml"),
    },
];

/// Projects with one mistake each, to learn what the messages say.
pub const BROKEN: &[Demo] = &[
    Demo {
        name: "broken-units",
        about: "a torque in units of mass times length",
        text: include_str!("../../../../examples/broken-units/arcwright.toml"),
    },
    Demo {
        name: "broken-gap",
        about: "a gap wider than the piece",
        text: include_str!("../../../../examples/broken-gap/arcwright.toml"),
    },
    Demo {
        name: "broken-reach",
        about: "a gearbox that leaves the wheel too slow for the rim",
        text: include_str!("../../../../examples/broken-reach/arcwright.toml"),
    },
];

/// The demo with a name, in whatever case it is written.
pub fn demo(name: &str) -> Option<&'static Demo> {
    DEMOS.iter().find(|d| d.name.eq_ignore_ascii_case(name))
}
