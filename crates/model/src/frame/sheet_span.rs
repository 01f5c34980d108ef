//! A guide sheet between its ribs: how far the piece pushes it away.

use crate::launcher::SheetMaterial;

/// What a sheet material is made of, for stiffness.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SheetStuff {
    /// Young's modulus, short time.
    pub modulus_pa: f64,
    /// Density.
    pub density_kgpm3: f64,
    /// Share of a solid sheet's bending stiffness across the flutes.
    pub across_frac: f64,
    /// Stress beyond which it stays bent.
    pub yield_pa: f64,
}

/// Stiffness and density of a sheet material at room temperature.
///
/// Handbook values for the plastics (from memory of makers' data; \[sheet-makers\]). Corrugated sheet bends along its
/// arc with the two skins only: the share is a judgement, a test strip replaces it.
pub fn sheet_stuff(material: SheetMaterial) -> SheetStuff {
    match material {
        SheetMaterial::Polycarbonate => SheetStuff {
            modulus_pa: 2.35e9,
            density_kgpm3: 1200.0,
            across_frac: 1.0,
            yield_pa: 62e6,
        },
        SheetMaterial::Acrylic => SheetStuff {
            modulus_pa: 3.2e9,
            density_kgpm3: 1190.0,
            across_frac: 1.0,
            yield_pa: 70e6,
        },
        SheetMaterial::Corrugated => SheetStuff {
            modulus_pa: 1.3e9,
            density_kgpm3: 300.0,
            across_frac: 0.15,
            yield_pa: 25e6,
        },
    }
}

/// A strip of sheet between two ribs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SheetSpan {
    /// Young's modulus.
    pub modulus_pa: f64,
    /// Poisson's ratio.
    pub poisson_ratio: f64,
    /// Thickness.
    pub thickness_m: f64,
    /// Width along the axle that bears the load.
    pub width_m: f64,
    /// Distance between ribs, along the arc.
    pub rib_m: f64,
    /// How firmly the ribs hold the slope: 0 they let it turn, 1 clamped. A sheet that runs on over many ribs is near 1/2.
    pub hold_frac: f64,
}

/// Deflection of a sheet between ribs for each newton at mid span.
///
/// ```text
/// d/F = s³ (1 − ν²)/(E b t³/12) · (1/48 at free ribs … 1/192 at clamped ribs)
/// ```
///
/// Wide strip as a beam \[timoshenko-plates\]; for held ribs between the two limits in even shares. The arch of the curve
/// stiffens it in truth, so this is the soft side; the sheet's hold from clamps spaced wider than `rib_m` is not in it.
pub fn span_m_per_n(span: &SheetSpan) -> f64 {
    let bending = span.modulus_pa * span.width_m * span.thickness_m.powi(3)
        / 12.0
        / (1.0 - span.poisson_ratio * span.poisson_ratio);
    let place = (1.0 - span.hold_frac) / 48.0 + span.hold_frac / 192.0;
    span.rib_m.powi(3) * place / bending
}

/// Thickness at which the same strip deflects by a given length under a force.
pub fn thickness_for_m(span: &SheetSpan, force_n: f64, allowed_m: f64) -> f64 {
    span.thickness_m * (span_m_per_n(span) * force_n / allowed_m).cbrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPAN: SheetSpan = SheetSpan {
        modulus_pa: 2.35e9,
        poisson_ratio: 0.0,
        thickness_m: 0.002,
        width_m: 0.1,
        rib_m: 0.06,
        hold_frac: 0.0,
    };

    /// Beam tables \[roark\]: F s³/48 E I on free ends, F s³/192 E I between clamped ones.
    #[test]
    fn the_two_ends_are_those_of_the_beam_tables() {
        let second = 0.1 * 0.002f64.powi(3) / 12.0;
        let free = 0.06f64.powi(3) / (48.0 * 2.35e9 * second);
        assert!((span_m_per_n(&SPAN) / free - 1.0).abs() < 1e-12);
        let clamped = span_m_per_n(&SheetSpan {
            hold_frac: 1.0,
            ..SPAN
        });
        assert!((clamped / free - 0.25).abs() < 1e-12);
    }

    #[test]
    fn the_thickness_for_a_deflection_gives_that_deflection() {
        let thickness_m = thickness_for_m(&SPAN, 80.0, 1e-4);
        let thick = SheetSpan { thickness_m, ..SPAN };
        assert!((span_m_per_n(&thick) * 80.0 - 1e-4).abs() < 1e-15);
    }
}
