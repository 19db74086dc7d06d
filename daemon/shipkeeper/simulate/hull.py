"""The boat in the water: surge, sway and yaw under wind, stream and the pull at the bow.

State is the velocity through the water in the boat's own axes (u ahead, v to starboard, r
clockwise), in the usual manoeuvring form with added mass and the Munk moment (Fossen, Handbook of
Marine Craft; from memory). Forces:

* water: resistance ahead; cross-flow drag on three strips (forefoot, keel, rudder), 1/2 rho C A v
  |v| with each strip's own sideways speed; lift of keel and rudder in proportion to way and drift;
* air: 1/2 rho V^2 times drag areas ahead and abeam; its centre of effort lies ahead of midships
  and moves forward as the wind comes ahead (mast, furled genoa), which makes her sail about;
* rode: horizontal pull at the bow roller, and the drag of the hanging chain.

Sizes are fits through common cruising yachts (from memory), L length and B beam in metres: mass
5.5 L^3 kg; drag area ahead 0.45 L + 0.9 B and abeam 1.75 L square metres; added mass 6 % ahead,
70 % abeam; yaw radius 0.26 L. A yacht of 10 m then pulls about 1 kN in 15 m/s, a third of the
design load of ABYC H-40, which holds surging and a margin. Waves are left out: what they do to a
fix is in `gnss.py`.
"""

from math import cos, sin, sqrt

from shipkeeper.simulate.plan import Boat

_AIR = 0.5 * 1.22
_WATER = 0.5 * 1025.0


class Hull:
    """Moves one time step at a time. Position is of midships, heading in radians from north."""

    __slots__ = (
        "_a_bow", "_a_keel", "_a_stern", "_chain_drag", "_inertia", "_lift_keel", "_lift_stern",
        "_m_ahead", "_m_side", "_p0", "_p1", "_res1", "_res2", "_wind_ahead", "_wind_side",
        "_x_bow", "_x_keel", "_x_stern", "_yaw1",
        "bow_m", "bow_x_m", "bow_y_m", "east_ms", "heading", "north_ms", "r", "u", "v", "x_m",
        "y_m",
    )  # fmt: skip

    def __init__(self, boat: Boat) -> None:
        """At rest with her bow at (0, 0), heading north."""
        length, beam, draught = boat.length_m, boat.beam_m, boat.draught_m
        mass = boat.mass_kg if boat.mass_kg is not None else 5.5 * length**3
        ahead = boat.windage_ahead_m2
        side = boat.windage_abeam_m2
        self._m_ahead = 1.06 * mass
        self._m_side = 1.70 * mass
        self._inertia = mass * (0.26 * length) ** 2 * 1.5
        self._wind_ahead = _AIR * (ahead if ahead is not None else 0.45 * length + beam * 0.9)
        self._wind_side = _AIR * (side if side is not None else 1.75 * length)
        self._p0 = length * (0.01 + 0.06 * boat.sailing)
        self._p1 = length * (0.05 + 0.12 * boat.sailing)
        self._res1 = 0.004 * mass**0.85
        self._res2 = _WATER * 0.02 * beam * draught + _WATER * 0.0035 * length * beam
        canoe = 0.30 * draught * length
        self._a_bow = _WATER * 0.9 * 0.30 * canoe
        self._a_keel = _WATER * 1.1 * (0.40 * canoe + 0.10 * length * 0.7 * draught)
        self._a_stern = _WATER * 1.0 * (0.30 * canoe + 0.035 * length * draught)
        self._lift_keel = _WATER * 2.0 * 0.10 * length * 0.7 * draught
        self._lift_stern = _WATER * 2.2 * 0.035 * length * draught
        self._x_bow, self._x_keel, self._x_stern = 0.30 * length, 0.0, -0.38 * length
        self._yaw1 = 0.01 * self._inertia
        self._chain_drag = 0.004 * mass
        self.bow_m = 0.5 * length
        self.u = self.v = self.r = 0.0
        self.east_ms = self.north_ms = 0.0
        self.place(0.0, 0.0, 0.0)

    def place(self, bow_x_m: float, bow_y_m: float, heading: float) -> None:
        """Put her with her bow at a place; speeds are kept."""
        self.heading = heading
        self.bow_x_m, self.bow_y_m = bow_x_m, bow_y_m
        self.x_m = bow_x_m - self.bow_m * sin(heading)
        self.y_m = bow_y_m - self.bow_m * cos(heading)

    def step(
        self,
        dt_s: float,
        wind_east: float,
        wind_north: float,
        stream_east: float,
        stream_north: float,
        pull_east: float,
        pull_north: float,
    ) -> None:
        """One step under air and water moving at (m/s) and a pull on the bow (N)."""
        u, v, r = self.u, self.v, self.r
        s, c = sin(self.heading), cos(self.heading)
        # Air as the boat feels it, in her axes.
        air_e, air_n = wind_east - self.east_ms, wind_north - self.north_ms
        ahead = air_e * s + air_n * c
        side = air_e * c - air_n * s
        speed = sqrt(ahead * ahead + side * side)
        force_y = self._wind_side * speed * side
        force_x = self._wind_ahead * speed * ahead
        turn = force_y * (self._p0 - self._p1 * ahead / speed) if speed > 0.0 else 0.0
        # Water: cross flow on three strips, lift of keel and rudder.
        v_bow = v + self._x_bow * r
        v_stern = v + self._x_stern * r
        way = abs(u)
        f_bow = self._a_bow * v_bow * abs(v_bow)
        f_keel = v * (self._a_keel * abs(v) + self._lift_keel * way)
        f_stern = v_stern * (self._a_stern * abs(v_stern) + self._lift_stern * way)
        force_x -= u * (self._res1 + self._res2 * way)
        force_y -= f_bow + f_keel + f_stern
        turn -= self._x_bow * f_bow + self._x_stern * f_stern + self._yaw1 * r
        # Rode.
        drag = self._chain_drag
        pull_x = pull_east * s + pull_north * c - drag * u
        pull_y = pull_east * c - pull_north * s - drag * (v + self.bow_m * r)
        turn += self.bow_m * pull_y
        m1, m2 = self._m_ahead, self._m_side
        u_new = u + dt_s * (force_x + pull_x + m2 * v * r) / m1
        v_new = v + dt_s * (force_y + pull_y - m1 * u * r) / m2
        r_new = r + dt_s * (turn - (m2 - m1) * u * v) / self._inertia
        self.u, self.v, self.r = u_new, v_new, r_new
        self.east_ms = east = u_new * s + v_new * c + stream_east
        self.north_ms = north = u_new * c - v_new * s + stream_north
        self.heading = heading = self.heading + dt_s * r_new
        self.x_m += dt_s * east
        self.y_m += dt_s * north
        self.bow_x_m = self.x_m + self.bow_m * sin(heading)
        self.bow_y_m = self.y_m + self.bow_m * cos(heading)

    def bow_mass_kg(self) -> float:
        """What a pull square to the bow has to move: the least inertia that the rode can meet."""
        return 1.0 / (1.0 / self._m_side + self.bow_m**2 / self._inertia)

    def offset_m(self, aft_m: float, to_starboard_m: float) -> tuple[float, float]:
        """(east, north) from midships of a point aft of the bow roller and to starboard."""
        s, c = sin(self.heading), cos(self.heading)
        ahead = self.bow_m - aft_m
        return ahead * s + to_starboard_m * c, ahead * c - to_starboard_m * s
