"""What a simulated night is made of: boat, rode, weather, tide, drags, receiver, instruments.

A plan is plain data and holds every event of the night with its time, so a night drawn at random
(`population.random_plan`) and a scripted one (the demo) go the same way. The seed only feeds the
noise: gusts, GNSS wander, instrument error. One plan gives one night, to the last bit. (At another
sampling rate the events are the same and the noise is another draw of the same kind.)

The plane: x east, y north, metres, with the true anchor at (0, 0) when the night begins.
Directions are degrees clockwise from true north; wind comes *from*, stream sets *to*.
"""

import msgspec

KNOT_MS = 1852 / 3600


class Boat(msgspec.Struct, frozen=True, kw_only=True):
    """A sailing yacht by her particulars; None is reckoned from the length (see `hull.py`).

    `antenna_from_bow_m` is measured aft along the middle line from the bow roller,
    `antenna_to_starboard_m` square to it.
    """

    length_m: float = 11.4
    beam_m: float = 3.6
    draught_m: float = 1.8
    antenna_from_bow_m: float = 8.9
    antenna_to_starboard_m: float = 0.0
    bow_height_m: float = 1.3
    mass_kg: float | None = None
    windage_ahead_m2: float | None = None  # drag area, coefficient included
    windage_abeam_m2: float | None = None
    sailing: float = 0.5  # 0 lies quiet .. 1 sails about at her anchor


class Rode(msgspec.Struct, frozen=True, kw_only=True):
    """Ground tackle: chain from the anchor, then rope (none for all chain).

    `entered_m` is what the person typed in, `length_m` what is really out.
    """

    length_m: float = 40.0
    entered_m: float = 40.0
    chain_m: float = 40.0  # the part next to the anchor that is chain; at most length_m
    chain_mm: float = 8.0
    rope_mm: float = 14.0
    snubber_m_per_n: float = 1.2e-4  # give of snubber, roller and trim of the boat
    bottom_friction: float = 0.8  # of chain lying on the bottom


class WindKnot(msgspec.Struct, frozen=True):
    """Mean wind at a time; straight lines between, the short way is the caller's business.

    `from_deg` may run past 360 or below 0, so that a veer through north is a plain line.
    """

    t_s: float
    speed_ms: float
    from_deg: float


class StreamKnot(msgspec.Struct, frozen=True):
    """Tidal stream at a time as a vector, m/s to the east and to the north."""

    t_s: float
    east_ms: float
    north_ms: float


class TideKnot(msgspec.Struct, frozen=True):
    """Height of the tide at a time over the level that `NightPlan.depth_m` is given for, m."""

    t_s: float
    height_m: float


class Air(msgspec.Struct, frozen=True, kw_only=True):
    """How unsteady the wind is about its mean."""

    gust: float = 0.15  # standard deviation of speed over mean speed
    gust_tau_s: float = 8.0
    shift_deg: float = 6.0  # quick changes of direction, standard deviation
    meander_deg: float = 10.0  # slow ones
    meander_tau_s: float = 600.0


class Drag(msgspec.Struct, frozen=True, kw_only=True):
    """The anchor lets go. It comes home towards the bow at `speed_ms` on the mean.

    `parted` instead: rode or pennant parts and the boat drifts free. It ends at `end_s` or when
    the anchor has gone `stop_after_m`, whichever is first; None never.
    """

    start_s: float
    speed_ms: float = 0.3
    end_s: float | None = None
    stop_after_m: float | None = None
    parted: bool = False


class GnssFault(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that goes wrong with the fix.

    kind: `multipath` (an excursion that swells to the offset and goes back), `step` (a jump that
    decays with the slow error), `outlier` (single fixes), `dropout` (no fix at all).
    """

    kind: str
    start_s: float
    duration_s: float = 1.0
    east_m: float = 0.0
    north_m: float = 0.0
    hdop_rise: float = 0.0  # what the receiver owns up to


class Gnss(msgspec.Struct, frozen=True, kw_only=True):
    """A receiver: error of one axis at its usual HDOP, split in three by variance share."""

    quality: str = "ordinary"  # fine | ordinary | poor; a label only
    sigma_m: float = 1.8
    slow_share: float = 0.75
    slow_tau_s: float = 400.0
    quick_share: float = 0.2
    quick_tau_s: float = 40.0  # what is left over is white
    hdop: float = 1.0
    hdop_wander: float = 0.15  # standard deviation of ln(HDOP)
    speed_sigma_ms: float = 0.06  # of one axis of the Doppler velocity
    speed_tau_s: float = 1.5
    speed_lag_s: float = 1.0  # smoothing inside the receiver
    clamp_ms: float = 0.0  # speeds below are reported as exactly zero
    resolution_m: float = 0.0  # fixes are rounded to this; 0 not at all
    faults: tuple[GnssFault, ...] = ()


class Instruments(msgspec.Struct, frozen=True, kw_only=True):
    """Compass, anemometer and sounder errors."""

    compass_bias_deg: float = 2.0
    compass_swing_deg: float = 2.0  # deviation that goes round once with the heading
    compass_sigma_deg: float = 1.0
    wind_gain: float = 1.0
    wind_offset_deg: float = 0.0
    wind_sigma_ms: float = 0.3
    vane_sigma_deg: float = 5.0
    cup_stall_ms: float = 0.5  # below this the cups stand and the vane sticks
    depth_sigma_m: float = 0.05
    depth_loss: float = 0.001  # chance of a sounding without an echo


class NightPlan(msgspec.Struct, frozen=True, kw_only=True):
    """One night. Depth is at the anchor with the tide at zero height, surface to bottom."""

    seed: int = 0
    duration_s: float = 8 * 3600.0
    rate_hz: float = 1.0
    boat: Boat = Boat()
    rode: Rode = Rode()
    depth_m: float = 6.0
    slope_east: float = 0.0  # of the bottom, metres of depth a metre
    slope_north: float = 0.0
    mark_x_m: float = 0.0  # the anchor as entered
    mark_y_m: float = 0.0
    wind: tuple[WindKnot, ...] = (WindKnot(0.0, 6.0, 240.0),)
    air: Air = Air()
    stream: tuple[StreamKnot, ...] = ()
    tide: tuple[TideKnot, ...] = ()
    drags: tuple[Drag, ...] = ()
    gnss: Gnss = Gnss()
    instruments: Instruments = Instruments()
    weather_class: str = "scripted"
    gnss_class: str = "scripted"
    drag_class: str = "none"
    mark_class: str = "true"

    @property
    def drag_start_s(self) -> float | None:
        """Start of the first drag; None on a night that holds."""
        return min((d.start_s for d in self.drags), default=None)

    @property
    def bow_over_bottom_m(self) -> float:
        """Height of the roller above the bottom at the anchor with the tide at zero height."""
        return self.depth_m + self.boat.bow_height_m


class Sample(msgspec.Struct, frozen=True, gc=False):
    """What the instruments say at `t_s`, and the truth beside it. None: the sensor says nothing.

    The fix is the position of the antenna. `wind_*` is the apparent wind at the masthead,
    from the bow clockwise 0..360; `true_wind_*` is the real air over the ground there.
    `depth_m` is surface to bottom. `dragged_m` is the way the anchor has come since it was set,
    along its track (after parting: how far the bow is from where it was when the rode parted).
    `pull_n` is the horizontal pull of the rode at the bow.
    """

    t_s: float
    fix_x_m: float | None
    fix_y_m: float | None
    sog_ms: float | None
    cog_deg: float | None
    hdop: float | None
    heading_deg: float | None
    wind_speed_ms: float | None
    wind_from_rel_deg: float | None
    depth_m: float | None
    true_wind_speed_ms: float
    true_wind_from_deg: float
    true_depth_m: float
    true_heading_deg: float
    anchor_x_m: float
    anchor_y_m: float
    bow_x_m: float
    bow_y_m: float
    antenna_x_m: float
    antenna_y_m: float
    pull_n: float
    dragging: bool
    dragged_m: float
