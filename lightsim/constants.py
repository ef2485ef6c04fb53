"""Numbers that every room shares, each with its unit and its source."""

from __future__ import annotations

# Index of refraction of water in air at 589 nm, 20 C. IAPWS R9-97 gives 1.333349 against
# vacuum (J. Phys. Chem. Ref. Data 27 (1998) 761); divided by air's 1.00027 it is 1.33299,
# the everyday 1.333.
WATER_INDEX = 1.333

# Surface tension of water at 20 C, N/m. IAPWS R1-76(2014).
WATER_SURFACE_TENSION_N_M = 0.072736

# Density of water at 20 C, 0.101325 MPa, kg/m3. IAPWS-95.
WATER_DENSITY_KG_M3 = 998.2072

# Standard acceleration of gravity, m/s2. CGPM 1901.
GRAVITY_M_S2 = 9.80665

# Mean index of plant cell walls. Gausman, Allen and Escobar, Appl. Opt. 13 (1974) 109.
CUTICLE_INDEX = 1.425

# Luminance weights of linear sRGB. ITU-R BT.709.
LUMINANCE_WEIGHTS = (0.2126, 0.7152, 0.0722)

# Bond number above which a drop is visibly flattened by gravity (height 1 to 2 % low);
# from the Young-Laplace equation, see optics.water.
FLATTENED_BOND_NUMBER = 0.1
