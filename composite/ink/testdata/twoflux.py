"""Integrate the two fluxes of Kubelka and Munk (1931) through a film by steps.

Going up from the backing, with i the flux downward and j the flux upward,

    di/dx =  (K + S) i - S j        dj/dx = -(K + S) j + S i

from i = 1, j = Rg at the backing; the film reflects j/i at its top. No closed
form of the solution is used. In "graded" rows absorption and scattering change
through the film, K(x) = 2K x and S(x) = 2S (1 - x) from the backing up, which
no closed form covers either: many thin films over each other have to give them.

    python3 twoflux.py > twoflux.csv        (scipy 1.10)
"""

from scipy.integrate import solve_ivp


def reflectance(k, s, under, graded):
    def fluxes(x, y):
        i, j = y
        kx, sx = (2 * k * x, 2 * s * (1 - x)) if graded else (k, s)
        return [(kx + sx) * i - sx * j, -(kx + sx) * j + sx * i]

    end = solve_ivp(fluxes, (0, 1), [1.0, under], method="DOP853", rtol=1e-13, atol=1e-15)
    i, j = end.y[:, -1]
    return j / i


print("graded,k,s,under,r")
for graded in (0, 1):
    for k in (0, 0.001, 0.05, 0.4, 1.5, 6):
        for s in (0, 0.002, 0.1, 0.8, 3, 9):
            for under in (0, 0.04, 0.45, 0.88, 1):
                print(f"{graded},{k},{s},{under},{reflectance(k, s, under, graded):.12g}")
