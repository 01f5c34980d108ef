//! Air: temperature, pressure, humidity, altitude to density and viscosity.
