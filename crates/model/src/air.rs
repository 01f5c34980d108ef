//! Air: temperature, pressure, humidity, altitude to density and viscosity.
//!
//! A weather service reports pressure reduced to sea level. Use the pressure read at the
//! site, or [`standard_atmosphere`] at its altitude.

/// What a thermometer, a barometer and a hygrometer read at the site.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weather {
    /// Air temperature.
    pub temperature_k: f64,
    /// Air pressure at the site (not reduced to sea level).
    pub pressure_pa: f64,
    /// Relative humidity, 0 to 1.
    pub humidity_frac: f64,
}

/// The two properties of air that flight needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Density.
    pub density_kgpm3: f64,
    /// Dynamic viscosity.
    pub viscosity_pas: f64,
}

/// A level of the standard atmosphere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// Temperature.
    pub temperature_k: f64,
    /// Pressure.
    pub pressure_pa: f64,
    /// Density of dry air.
    pub density_kgpm3: f64,
}

/// Density and viscosity of moist air: [`moist_air_density`] and [`viscosity`] together.
pub fn air(weather: &Weather) -> Air {
    Air {
        density_kgpm3: moist_air_density(weather),
        viscosity_pas: viscosity(weather.temperature_k),
    }
}

/// Density of moist air, formula CIPM-2007 [picard-2008], in kg/m³.
///
/// ```text
/// psv = exp(A T² + B T + C + D/T)                       saturation vapour pressure, T in kelvin
/// f   = 1.00062 + 3.14e-8 p + 5.6e-7 t²                 enhancement factor, t in °C
/// xv  = h f psv / p                                     mole fraction of water vapour
/// Z   = 1 − p/T [a0 + a1 t + a2 t² + (b0 + b1 t) xv + (c0 + c1 t) xv²] + (p/T)² (d + e xv²)
/// rho = p Ma / (Z R T) [1 − xv (1 − Mv/Ma)]
/// ```
///
/// Equations (1), A1.1 to A1.4 of the source, carbon dioxide 400 ppm. Stated for 600 to
/// 1100 hPa and 15 to 27 °C, relative uncertainty of the formula 2.2e-5; outside it stays
/// far inside 1e-3, more than flight needs. Input that is not finite gives a result that
/// is not finite.
pub fn moist_air_density(weather: &Weather) -> f64 {
    let Weather {
        temperature_k: temp_k,
        pressure_pa: p,
        humidity_frac: h,
    } = *weather;
    let t = temp_k - ZERO_CELSIUS_K;
    let psv = (1.237_884_7e-5 * temp_k * temp_k - 1.912_131_6e-2 * temp_k + 33.937_110_47
        - 6.343_164_5e3 / temp_k)
        .exp();
    let f = 1.000_62 + 3.14e-8 * p + 5.6e-7 * t * t;
    let xv = h * f * psv / p;
    let p_per_t = p / temp_k;
    let first = 1.581_23e-6 - 2.933_1e-8 * t
        + 1.104_3e-10 * t * t
        + (5.707e-6 - 2.051e-8 * t) * xv
        + (1.989_8e-4 - 2.376e-6 * t) * xv * xv;
    let second = 1.83e-11 - 0.765e-8 * xv * xv;
    let compressibility = 1.0 - p_per_t * first + p_per_t * p_per_t * second;
    p * MOLAR_DRY_KG / (compressibility * GAS_CONSTANT * temp_k)
        * (1.0 - xv * (1.0 - MOLAR_WATER_KG / MOLAR_DRY_KG))
}

/// 0 °C in kelvin.
const ZERO_CELSIUS_K: f64 = 273.15;
/// Molar mass of dry air with 400 ppm of carbon dioxide, kg/mol [picard-2008].
const MOLAR_DRY_KG: f64 = 28.965_46e-3;
/// Molar mass of water, kg/mol [picard-2008].
const MOLAR_WATER_KG: f64 = 18.015_28e-3;
/// Molar gas constant as used by CIPM-2007 (CODATA 2006), J/(mol K) [picard-2008].
const GAS_CONSTANT: f64 = 8.314_472;

/// Dynamic viscosity of air, Sutherland's form [iso-2533], in Pa s.
///
/// ```text
/// mu = 1.458e-6 T^1.5 / (T + 110.4)
/// ```
///
/// Range 110 to 1900 K. Humidity changes it by under 1 % and is left out.
pub fn viscosity(temperature_k: f64) -> f64 {
    1.458e-6 * temperature_k * temperature_k.sqrt() / (temperature_k + 110.4)
}

/// The standard atmosphere below 11 km [iso-2533], at a geopotential altitude.
///
/// ```text
/// T = 288.15 − 0.0065 H,   p = 101325 (T/288.15)^(g0/(R L)),   rho = p/(R T)
/// ```
///
/// Range 0 to 11000 m; valid a little below sea level too (the standard itself starts at −2000 m).
/// For a site given by its height above the sea, see [`geopotential_altitude`].
pub fn standard_atmosphere(geopotential_m: f64) -> Level {
    let temperature_k = SEA_LEVEL_K - LAPSE_K_PER_M * geopotential_m;
    let exponent = STANDARD_GRAVITY_MPS2 / (AIR_GAS_CONSTANT * LAPSE_K_PER_M);
    let pressure_pa = SEA_LEVEL_PA * (temperature_k / SEA_LEVEL_K).powf(exponent);
    Level {
        temperature_k,
        pressure_pa,
        density_kgpm3: pressure_pa / (AIR_GAS_CONSTANT * temperature_k),
    }
}

/// Geopotential altitude of a height above the sea [iso-2533]: `H = r z/(r + z)`, in metres.
pub fn geopotential_altitude(height_m: f64) -> f64 {
    EARTH_RADIUS_M * height_m / (EARTH_RADIUS_M + height_m)
}

/// Height above the sea of a geopotential altitude: the inverse of [`geopotential_altitude`], in metres.
pub fn geometric_altitude(geopotential_m: f64) -> f64 {
    EARTH_RADIUS_M * geopotential_m / (EARTH_RADIUS_M - geopotential_m)
}

/// Standard acceleration of gravity [iso-2533].
pub const STANDARD_GRAVITY_MPS2: f64 = 9.806_65;
/// Temperature at sea level [iso-2533].
const SEA_LEVEL_K: f64 = 288.15;
/// Pressure at sea level [iso-2533].
const SEA_LEVEL_PA: f64 = 101_325.0;
/// Temperature lapse below 11 km, K/m [iso-2533].
const LAPSE_K_PER_M: f64 = 0.0065;
/// Specific gas constant of air, J/(kg K) [iso-2533].
const AIR_GAS_CONSTANT: f64 = 287.052_87;
/// Nominal radius of the Earth [iso-2533].
const EARTH_RADIUS_M: f64 = 6_356_766.0;

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64, tolerance: f64) {
        assert!((a - b).abs() <= tolerance, "{a} is not {b} within {tolerance}");
    }

    fn celsius(t: f64, pressure_pa: f64, humidity_frac: f64) -> Weather {
        Weather {
            temperature_k: t + 273.15,
            pressure_pa,
            humidity_frac,
        }
    }

    /// Published: a mass-metrology handbook table, 10 °C, 730 mmHg, 40 % gives 1.19569 kg/m³.
    #[test]
    fn density_at_10_celsius_730_mmhg_40_percent_matches_the_handbook_table() {
        close(
            moist_air_density(&celsius(10.0, 97_325.34, 0.4)),
            1.195_69,
            0.5e-5,
        );
    }

    /// CIPM-2007 [picard-2008] at 20 and 30 °C, dry to saturated.
    #[test]
    fn density_at_sea_level_pressure_matches_cipm_2007() {
        for (t, h, rho) in [
            (20.0, 0.0, 1.204_557),
            (20.0, 0.5, 1.199_314),
            (20.0, 1.0, 1.194_087),
            (30.0, 0.5, 1.155_513),
        ] {
            close(moist_air_density(&celsius(t, 101_325.0, h)), rho, 0.5e-6);
        }
    }

    /// The approximation of OIML R 111-1:2004 annex E claims 2e-4 (range and claim from memory) and is a
    /// separate formula; here inside the range of temperature that CIPM-2007 states.
    #[test]
    fn density_agrees_with_the_oiml_r111_approximation_within_its_claim() {
        for t in [15.0, 20.0, 27.0_f64] {
            for hpa in [900.0, 1000.0, 1100.0] {
                for h in [0.2, 0.5, 0.79] {
                    let oiml = (0.348_48 * hpa - 0.009 * (100.0 * h) * (0.061 * t).exp()) / (273.15 + t);
                    let rho = moist_air_density(&celsius(t, 100.0 * hpa, h));
                    close(rho / oiml, 1.0, 2e-4);
                }
            }
        }
    }

    /// ISO 2533 tables: temperature, pressure, density, viscosity by geopotential altitude.
    #[test]
    fn standard_levels_match_iso_2533() {
        for (h, t, p, rho, mu) in [
            (0.0, 288.15, 101_325.0, 1.225_00, 1.7894e-5),
            (500.0, 284.90, 95_460.8, 1.167_27, 1.7737e-5),
            (1000.0, 281.65, 89_874.6, 1.111_64, 1.7578e-5),
            (1500.0, 278.40, 84_556.0, 1.058_07, 1.7419e-5),
            (2000.0, 275.15, 79_495.2, 1.006_49, 1.7260e-5),
            (3000.0, 268.65, 70_108.5, 0.909_122, 1.6937e-5),
        ] {
            let level = standard_atmosphere(h);
            close(level.temperature_k, t, 0.005);
            close(level.pressure_pa, p, 0.05);
            close(level.density_kgpm3, rho, 0.5e-5);
            close(viscosity(level.temperature_k), mu, 0.51e-9);
        }
    }

    #[test]
    fn a_height_above_the_sea_is_a_little_less_in_geopotential_metres() {
        for (z, rho) in [(1000.0, 1.111_66), (2000.0, 1.006_55), (3000.0, 0.909_254)] {
            close(
                standard_atmosphere(geopotential_altitude(z)).density_kgpm3,
                rho,
                0.5e-5,
            );
            close(geometric_altitude(geopotential_altitude(z)), z, 1e-8);
        }
    }

    /// Sutherland's form as tabulated in ISO 2533 and the U.S. Standard Atmosphere 1976.
    #[test]
    fn viscosity_matches_the_tabulated_values() {
        for (t, mu) in [
            (0.0, 1.716_08e-5),
            (15.0, 1.789_38e-5),
            (20.0, 1.813_41e-5),
            (25.0, 1.837_23e-5),
            (30.0, 1.860_87e-5),
        ] {
            close(viscosity(t + 273.15), mu, 0.51e-10);
        }
    }

    #[test]
    fn humidity_makes_air_lighter() {
        let dry = moist_air_density(&celsius(20.0, 101_325.0, 0.0));
        let wet = moist_air_density(&celsius(20.0, 101_325.0, 1.0));
        close(1.0 - wet / dry, 0.0087, 0.0005);
    }

    /// Every `points.moist_air` and `points.isa` row of every flight file in the checks folder.
    #[test]
    fn every_row_of_the_check_files_is_met() {
        let mut rows = 0;
        for file in crate::numerics::checks::files("flight") {
            let number = |row: &serde_json::Value, key: &str| row.get(key).and_then(|v| v.as_f64());
            for row in crate::numerics::checks::rows(&file, &["points", "moist_air"]) {
                let weather = Weather {
                    temperature_k: number(row, "temperature").unwrap(),
                    pressure_pa: number(row, "pressure").unwrap(),
                    humidity_frac: number(row, "humidity").unwrap(),
                };
                let found = air(&weather);
                let rho = number(row, "density_cipm2007").unwrap();
                let mu = number(row, "viscosity_sutherland").unwrap();
                close(found.density_kgpm3 / rho, 1.0, 1e-9);
                close(found.viscosity_pas / mu, 1.0, 1e-9);
                rows += 1;
            }
            for row in crate::numerics::checks::rows(&file, &["points", "isa"]) {
                let level = standard_atmosphere(number(row, "geopotential_altitude").unwrap());
                close(
                    level.temperature_k / number(row, "temperature").unwrap(),
                    1.0,
                    1e-9,
                );
                close(level.pressure_pa / number(row, "pressure").unwrap(), 1.0, 1e-9);
                close(level.density_kgpm3 / number(row, "density").unwrap(), 1.0, 1e-9);
                rows += 1;
            }
        }
        assert!(rows > 0, "no rows of moist air or standard atmosphere were found");
    }
}
