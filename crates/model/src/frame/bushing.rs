//! Plain bushings: pressure, rubbing speed, their product, and heat.

/// A bushing and what runs in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bushing {
    /// Radial load.
    pub load_n: f64,
    /// Bore.
    pub bore_m: f64,
    /// Length.
    pub length_m: f64,
    /// Speed of the shaft.
    pub speed_radps: f64,
    /// Friction.
    pub friction_coeff: f64,
    /// Rise of temperature for each watt of rubbing.
    pub thermal_k_per_w: f64,
    /// Greatest product of pressure and speed that its material bears.
    pub limit_pa_mps: f64,
}

/// What a bushing has to bear.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BushingLoad {
    /// Mean pressure on the projected area.
    pub pressure_pa: f64,
    /// Rubbing speed.
    pub rub_mps: f64,
    /// Their product.
    pub product_pa_mps: f64,
    /// The product over what the material bears; above 1 it wears or melts.
    pub limit_ratio: f64,
    /// Load at which the product reaches its limit.
    pub most_n: f64,
    /// Heat of rubbing.
    pub heat_w: f64,
    /// Rise of temperature after minutes.
    pub rise_k: f64,
}

/// Pressure, speed, their product, and heat of a plain bushing.
///
/// ```text
/// P = W/(d L)    V = ω d/2    PV = W ω/(2 L)    W_max = 2 L PV_lim/ω    Q = μ W V    ΔT = Q Rth
/// ```
///
/// \[neale-tribology\]. The bore cancels in PV: a thinner shaft does not help, a longer bushing does. The limit
/// falls with speed and warmth, so P and V have limits of their own.
pub fn bushing_load(b: &Bushing) -> BushingLoad {
    let pressure_pa = b.load_n / (b.bore_m * b.length_m);
    let rub_mps = 0.5 * b.speed_radps * b.bore_m;
    let product_pa_mps = pressure_pa * rub_mps;
    let heat_w = b.friction_coeff * b.load_n * rub_mps;
    BushingLoad {
        pressure_pa,
        rub_mps,
        product_pa_mps,
        limit_ratio: product_pa_mps / b.limit_pa_mps,
        most_n: 2.0 * b.length_m * b.limit_pa_mps / b.speed_radps,
        heat_w,
        rise_k: heat_w * b.thermal_k_per_w,
    }
}

/// Materials of bushings, dry on steel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BushingMaterial {
    /// Nylon without filler.
    Nylon,
    /// Acetal without filler.
    Acetal,
    /// Polyethylene of very high molecular weight.
    Polyethylene,
    /// PTFE with filler.
    FilledPtfe,
    /// Sintered bronze with a PTFE lining.
    LinedBronze,
}

/// Limits of a bushing material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BushingLimits {
    /// Greatest pressure; `None` where no figure is known.
    pub pressure_pa: Option<f64>,
    /// Greatest rubbing speed; `None` where no figure is known.
    pub rub_mps: Option<f64>,
    /// Greatest product of the two.
    pub product_pa_mps: f64,
    /// Friction, dry, run in.
    pub friction_coeff: f64,
    /// Greatest temperature in steady use.
    pub hottest_k: f64,
}

impl BushingMaterial {
    /// Every material with its word.
    pub const ALL: [(BushingMaterial, &'static str); 5] = [
        (BushingMaterial::Nylon, "nylon"),
        (BushingMaterial::Acetal, "acetal"),
        (BushingMaterial::Polyethylene, "polyethylene"),
        (BushingMaterial::FilledPtfe, "filled-ptfe"),
        (BushingMaterial::LinedBronze, "lined-bronze"),
    ];

    /// Its word in the project file.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(m, _)| *m == self).map_or("", |(_, w)| w)
    }

    /// Limits, dry on steel.
    ///
    /// Products: nylon, polyethylene and filled PTFE \[mott-elements\], lined bronze and ranges of friction
    /// \[neale-tribology\] (both seen in part); acetal, pressures, speeds and temperatures from memory of the same books.
    pub fn limits(self) -> BushingLimits {
        let of = |pressure_pa, rub_mps, product_pa_mps, friction_coeff, hottest_degc: f64| BushingLimits {
            pressure_pa,
            rub_mps,
            product_pa_mps,
            friction_coeff,
            hottest_k: 273.15 + hottest_degc,
        };
        match self {
            BushingMaterial::Nylon => of(Some(7e6), Some(5.0), 105e3, 0.25, 80.0),
            BushingMaterial::Acetal => of(Some(7e6), Some(5.0), 100e3, 0.2, 80.0),
            BushingMaterial::Polyethylene => of(None, None, 140e3, 0.15, 60.0),
            BushingMaterial::FilledPtfe => of(Some(7e6), Some(5.0), 350e3, 0.15, 250.0),
            BushingMaterial::LinedBronze => of(Some(140e6), Some(2.5), 1.75e6, 0.12, 250.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    const AT_SPEED: Bushing = Bushing {
        load_n: 20.0,
        bore_m: 0.008,
        length_m: 0.008,
        speed_radps: 5000.0 * TAU / 60.0,
        friction_coeff: 0.2,
        thermal_k_per_w: 12.0,
        limit_pa_mps: 1e5,
    };

    /// Trap: the bore cancels in PV.
    #[test]
    fn the_product_does_not_depend_on_the_bore_and_halves_with_twice_the_length() {
        let thick = bushing_load(&Bushing {
            bore_m: 0.02,
            ..AT_SPEED
        });
        let plain = bushing_load(&AT_SPEED);
        assert!((thick.product_pa_mps / plain.product_pa_mps - 1.0).abs() < 1e-12);
        let long = bushing_load(&Bushing {
            length_m: 0.016,
            ..AT_SPEED
        });
        assert!((long.product_pa_mps / plain.product_pa_mps - 0.5).abs() < 1e-12);
    }

    #[test]
    fn at_the_greatest_load_the_product_is_at_its_limit() {
        let most = bushing_load(&AT_SPEED).most_n;
        let at = bushing_load(&Bushing {
            load_n: most,
            ..AT_SPEED
        });
        assert!((at.limit_ratio - 1.0).abs() < 1e-12);
    }

    #[test]
    fn every_material_has_its_own_word() {
        for (m, word) in BushingMaterial::ALL {
            assert_eq!(m.word(), word);
            assert!(m.limits().product_pa_mps > 0.0);
        }
    }
}
