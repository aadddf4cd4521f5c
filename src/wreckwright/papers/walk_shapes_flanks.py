"""The machine seen along its flank, its nose to the left: the side with the chain, and the side with the silencer."""

from __future__ import annotations

import math

from wreckwright.papers.walk_paths import box, ellipse, smooth_corners
from wreckwright.papers.walk_strokes import Shape, Stroke, View, dark, ink, thing

_FRONT_X, _REAR_X, _AXLE_Y, _TYRE = 40.0, 322.0, 250.0, 68.0


def _spokes(x: float, y: float, inner: float, outer: float) -> str:
    """Five double spokes of a wheel about (x, y)."""
    lines: list[str] = []
    for spoke in range(5):
        for aside in (-0.13, 0.13):
            turn = math.radians(72 * spoke + 18)
            lines.append(
                f"M {x + inner * math.cos(turn + 3 * aside):.1f} {y + inner * math.sin(turn + 3 * aside):.1f}"
                f" L {x + outer * math.cos(turn + aside):.1f} {y + outer * math.sin(turn + aside):.1f}"
            )
    return " ".join(lines)


def _wheel(x: float) -> tuple[Stroke, ...]:
    return (
        thing(ellipse(x, _AXLE_Y, _TYRE), 2.0),
        ink(ellipse(x, _AXLE_Y, _TYRE - 15), 1.4),
        ink(ellipse(x, _AXLE_Y, _TYRE - 19), 1.0),
        ink(_spokes(x, _AXLE_Y, 11, _TYRE - 19), 1.2),
        thing(ellipse(x, _AXLE_Y, 11)),
        ink(ellipse(x, _AXLE_Y, 4), 1.2),
    )


def _teeth(x: float, y: float, radius: float, count: int) -> str:
    """A toothed edge about (x, y), closed."""
    corners: list[tuple[float, float]] = []
    for step in range(2 * count):
        turn, far = math.pi * step / count, radius + (1.8 if step % 2 else -1.8)
        corners.append((x + far * math.cos(turn), y + far * math.sin(turn)))
    return smooth_corners(corners, 1.0)


def _chain(x1: float, y1: float, x2: float, y2: float) -> tuple[Stroke, ...]:
    """A run of chain from one point to another: two edges and its pins."""
    length = math.hypot(x2 - x1, y2 - y1)
    along, across = ((x2 - x1) / length, (y2 - y1) / length), ((y1 - y2) / length, (x2 - x1) / length)
    edges = " ".join(
        f"M {x1 + aside * across[0]:.1f} {y1 + aside * across[1]:.1f}"
        f" L {x2 + aside * across[0]:.1f} {y2 + aside * across[1]:.1f}"
        for aside in (-3.2, 3.2)
    )
    pins = " ".join(
        f"M {x1 + far * along[0] - 1.6 * across[0]:.1f} {y1 + far * along[1] - 1.6 * across[1]:.1f}"
        f" L {x1 + far * along[0] + 1.6 * across[0]:.1f} {y1 + far * along[1] + 1.6 * across[1]:.1f}"
        for far in (4.0 + 6.0 * pin for pin in range(int((length - 4.0) / 6.0) + 1))
    )
    return ink(edges, 1.3), ink(pins, 1.6)


_SPAR: tuple[Stroke, ...] = (
    thing(smooth_corners([(182, 120), (196, 119), (240, 160), (244, 173), (228, 173), (184, 136)], 5), 1.6),
    ink("M 190 128 L 232 166", 1.0),
)
_BEHIND: tuple[Stroke, ...] = (
    ink("M 4 318 L 356 318", 1.0),
    *_wheel(_REAR_X),
    *_wheel(_FRONT_X),
    # Front: disc, mudguard, fork, lamp with its screen, bars, mirror.
    ink(ellipse(_FRONT_X, _AXLE_Y, 30), 1.2),
    ink(ellipse(_FRONT_X, _AXLE_Y, 20), 1.0),
    thing(
        "M 0 186 C 22 170 58 170 84 188 C 96 196 104 210 106 222 L 98 224 C 92 208 82 196 72 192"
        " C 50 180 22 182 0 198 Z"
    ),
    thing(smooth_corners([(99, 76), (114, 80), (75, 184), (60, 178)], 3)),
    thing(smooth_corners([(62, 172), (76, 178), (52, 254), (34, 250)], 4)),
    thing(smooth_corners([(54, 222), (76, 228), (68, 256), (46, 250)], 4)),
    ink("M 58 234 L 70 238", 1.0),
    ink(ellipse(_FRONT_X + 1, _AXLE_Y, 6), 1.4),
    thing("M 74 78 L 88 34 C 92 28 100 30 102 36 L 112 74 C 100 80 86 82 74 78 Z", 1.2),
    ink("M 88 74 L 96 44", 0.9),
    thing("M 96 84 C 84 76 66 80 60 92 C 56 104 58 118 66 126 L 96 124 C 104 112 104 94 96 84 Z", 1.6),
    ink("M 68 84 C 62 96 62 112 68 122", 1.0),
    thing(ellipse(86, 136, 8, 6)),
    ink("M 108 74 C 116 62 124 58 134 58", 4.5),
    thing(box(126, 50, 30, 13, 6)),
    ink("M 134 51 L 134 62 M 141 51 L 141 62 M 148 51 L 148 62", 0.9),
    ink("M 128 62 C 122 66 112 70 106 68", 1.8),
    ink("M 126 54 C 124 42 126 32 130 26", 2.0),
    thing("M 122 26 C 120 14 132 6 148 8 C 158 10 160 22 152 28 C 142 32 128 32 122 26 Z"),
    # Tank, seat, tail, rear lamp, plate.
    thing("M 108 102 C 110 76 140 60 172 64 C 198 68 214 84 220 108 C 186 116 142 116 108 112 Z", 1.8),
    ink("M 124 96 C 130 82 148 74 168 76", 1.0),
    thing(box(148, 58, 26, 7, 3)),
    thing(
        "M 212 98 C 224 108 244 106 258 98 C 282 86 308 80 334 80 C 344 80 346 88 338 92 C 312 98 286 106 262 114"
        " C 246 120 228 116 218 110 Z",
        1.6,
    ),
    ink("M 254 104 C 276 94 304 86 330 84", 0.9),
    thing("M 262 114 C 286 106 312 98 336 93 L 352 86 L 350 100 L 326 112 L 270 132 Z"),
    thing(smooth_corners([(344, 88), (356, 86), (355, 100), (342, 104)], 3)),
    ink("M 336 112 L 350 138", 2.4),
    thing(smooth_corners([(346, 124), (355, 120), (360, 150), (352, 154)], 2)),
    ink("M 334 112 L 338 124", 2.4),
    thing(ellipse(340, 128, 7, 5)),
    ink("M 240 122 L 316 112 M 244 166 L 288 124", 3.0),
    # Engine: cylinder, crankcase, exhaust pipes, sump.
    thing(smooth_corners([(110, 170), (206, 170), (220, 194), (218, 244), (200, 264), (128, 264), (110, 244)], 10)),
    ink("M 116 252 L 212 252", 1.0),
    thing(
        "M 104 150 C 86 176 88 226 106 250 C 120 268 150 278 190 280 L 206 280 L 206 268 L 190 268"
        " C 154 266 130 258 116 242 C 102 222 100 182 114 158 Z"
    ),
    # Spar of the frame, swing arm.
    *_SPAR,
    thing(smooth_corners([(204, 200), (232, 204), (332, 238), (336, 258), (320, 262), (206, 232)], 6), 1.6),
)

_FRAME = Shape(
    pieces=(smooth_corners([(182, 118), (246, 118), (246, 174), (182, 174)], 9),),
    strokes=(
        *_SPAR,
        ink("M 184 150 C 194 150 196 164 206 173", 4.5),
        thing(box(218, 124, 22, 24, 4)),
        thing(box(224, 119, 10, 6, 2)),
        ink("M 221 132 L 230 132 M 221 141 L 230 141", 0.9),
    ),
    words_at=(214, 164),
)
_PANEL = Shape(
    pieces=(
        "M 106 119 L 168 117 Q 178 118 177 128 L 171 168 Q 168 174 160 176 L 116 184 Q 106 184 104 174"
        " C 100 156 100 138 106 119 Z",
    ),
    strokes=(
        ink("M 112 128 L 168 125 M 112 128 C 108 146 108 160 112 176", 1.0),
        ink("M 120 142 L 160 136 L 156 150 L 122 156 Z", 1.2),
        ink("M 124 145 L 124 154 M 132 143 L 132 153 M 140 142 L 140 152 M 148 140 L 148 150", 0.9),
        dark(ellipse(164, 164, 2.2)),
        dark(ellipse(114, 174, 2.2)),
    ),
    words_at=(140, 168),
)

CHAIN_SIDE = View(
    height=326.0,
    words="The flank with the gear lever, the side stand and the chain.",
    behind=(
        *_BEHIND,
        thing(_teeth(_REAR_X, _AXLE_Y, 31, 26)),
        ink(ellipse(_REAR_X, _AXLE_Y, 22), 1.0),
        ink(ellipse(_REAR_X, _AXLE_Y, 5), 1.4),
    ),
    shapes={
        "panel": _PANEL,
        "frame": _FRAME,
        "engine": Shape(
            pieces=(smooth_corners([(112, 190), (180, 182), (182, 246), (120, 250), (110, 240)], 14),),
            strokes=(
                thing(ellipse(152, 214, 27), 1.8),
                ink(ellipse(152, 214, 20), 1.0),
                *(
                    dark(ellipse(152 + 23.5 * math.cos(turn), 214 + 23.5 * math.sin(turn), 1.6))
                    for turn in (0.4, 1.5, 2.5, 3.6, 4.6, 5.6)
                ),
                thing(ellipse(124, 236, 10)),
                ink(ellipse(124, 236, 4.5), 1.0),
                ink("M 114 238 L 104 230", 4.0),
            ),
            words_at=(148, 237),
        ),
        "footrest": Shape(
            pieces=(smooth_corners([(187, 180), (247, 180), (247, 238), (187, 238)], 9),),
            strokes=(
                thing(smooth_corners([(220, 182), (236, 184), (240, 206), (228, 226), (218, 222), (222, 204)], 4), 1.6),
                ink(ellipse(229, 190, 3), 1.0),
                thing(box(218, 214, 27, 11, 5)),
                ink("M 225 215 L 225 224 M 231 215 L 231 224 M 237 215 L 237 224", 0.9),
                ink("M 222 230 L 196 226", 3.2),
                thing(box(188, 221, 13, 8, 4)),
                ink("M 206 227 L 200 196", 2.0),
                thing(ellipse(199, 193, 4)),
            ),
            words_at=(217, 228),
        ),
        "chain": Shape(
            pieces=(smooth_corners([(253, 190), (318, 198), (318, 288), (253, 264)], 9),),
            strokes=(
                thing(smooth_corners([(256, 193), (306, 199), (314, 212), (300, 209), (256, 203)], 4)),
                *_chain(255, 211, 316, 218),
                *_chain(255, 242, 316, 280),
                ink("M 300 228 C 294 240 294 260 302 270", 1.4),
                ink("M 308 236 C 305 244 305 254 309 262", 1.0),
            ),
            words_at=(280, 234),
        ),
        "stand": Shape(
            pieces=(smooth_corners([(182, 256), (244, 244), (244, 314), (182, 314)], 9),),
            strokes=(
                thing(smooth_corners([(214, 256), (230, 254), (232, 268), (216, 270)], 4)),
                thing(smooth_corners([(216, 264), (226, 266), (206, 306), (196, 304)], 3), 1.6),
                thing(smooth_corners([(188, 303), (212, 303), (212, 310), (186, 310)], 2)),
                ink("M 226 272 L 230 292 M 230 292 L 210 296", 1.2),
                thing(box(220, 258, 8, 7, 2)),
            ),
            words_at=(212, 301),
        ),
    },
)

SILENCER_SIDE = View(
    height=326.0,
    words="The flank with the brake pedal, the rear brake and the silencer.",
    behind=(
        *_BEHIND,
        thing("M 204 270 C 236 276 250 246 252 214 L 258 196 L 270 200 L 266 216 C 266 252 248 292 204 284 Z"),
    ),
    shapes={
        "panel": _PANEL,
        "frame": _FRAME,
        "engine": Shape(
            pieces=(smooth_corners([(112, 190), (180, 182), (182, 246), (120, 252), (110, 240)], 14),),
            strokes=(
                thing(
                    "M 128 198 C 140 184 168 184 176 200 C 182 214 178 236 164 242 C 148 248 128 246 122 232"
                    " C 118 220 120 206 128 198 Z",
                    1.8,
                ),
                ink(
                    "M 134 204 C 144 194 162 194 168 206 C 172 216 170 230 160 235 C 148 239 134 236 130 228"
                    " C 127 220 128 210 134 204 Z",
                    1.0,
                ),
                *(
                    dark(ellipse(x, y, 1.6))
                    for x, y in ((126, 214), (140, 192), (164, 193), (177, 214), (168, 236), (142, 242))
                ),
                ink(ellipse(142, 206, 5), 1.2),
                ink("M 138 206 L 146 206", 1.0),
            ),
            words_at=(148, 237),
        ),
        "footrest": Shape(
            pieces=(smooth_corners([(186, 179), (246, 179), (246, 237), (186, 237)], 9),),
            strokes=(
                thing(smooth_corners([(196, 184), (236, 184), (240, 196), (228, 226), (214, 224), (206, 200)], 5), 1.6),
                ink("M 208 192 L 228 192 L 220 210 Z", 1.0),
                ink(ellipse(201, 190, 2.6), 1.0),
                ink(ellipse(232, 190, 2.6), 1.0),
                thing(box(214, 213, 28, 11, 5)),
                ink("M 222 214 L 222 223 M 228 214 L 228 223 M 234 214 L 234 223", 0.9),
            ),
            words_at=(216, 227),
        ),
        "pedal": Shape(
            pieces=(smooth_corners([(187, 242), (247, 242), (247, 300), (187, 300)], 9),),
            strokes=(
                thing(ellipse(226, 268, 6)),
                ink(ellipse(226, 268, 2.4), 1.0),
                thing(smooth_corners([(220, 265), (222, 272), (204, 288), (198, 283)], 3), 1.6),
                thing(box(190, 279, 15, 9, 4)),
                ink("M 194 280 L 194 287 M 199 280 L 199 287", 0.9),
                ink("M 230 265 L 238 268", 2.6),
                ink("M 238 268 L 238 262", 2.0),
                thing(box(232, 246, 12, 17, 3)),
                ink("M 232 252 L 222 248", 2.0),
            ),
            words_at=(217, 291),
        ),
        "brake": Shape(
            pieces=(smooth_corners([(285, 216), (353, 216), (353, 284), (285, 284)], 12),),
            strokes=(
                thing(ellipse(_REAR_X, _AXLE_Y, 28), 1.8),
                ink(ellipse(_REAR_X, _AXLE_Y, 17), 1.2),
                *(
                    ink(ellipse(_REAR_X + 22.5 * math.cos(turn), _AXLE_Y + 22.5 * math.sin(turn), 1.8), 0.9)
                    for turn in (1.9, 2.5, 3.1, 5.4, 6.0, 0.3, 0.9, 1.4)
                ),
                thing(ellipse(_REAR_X, _AXLE_Y, 7)),
                ink(ellipse(_REAR_X, _AXLE_Y, 3), 1.0),
                thing(smooth_corners([(296, 218), (330, 216), (334, 232), (302, 238)], 6), 1.6),
                ink("M 304 226 L 326 222", 1.0),
                ink("M 298 220 C 290 218 286 222 286 230", 1.6),
            ),
            words_at=(319, 272),
        ),
        "silencer": Shape(
            pieces=(
                smooth_corners(
                    [(251, 166), (288, 143), (344, 126), (358, 136), (358, 194), (340, 203), (262, 214), (251, 207)], 9
                ),
            ),
            strokes=(
                thing(smooth_corners([(254, 190), (266, 182), (272, 200), (258, 208)], 5)),
                thing(smooth_corners([(264, 180), (338, 151), (350, 158), (352, 172), (342, 180), (270, 203)], 9), 1.8),
                ink("M 278 176 L 284 197 M 328 156 L 336 181", 1.2),
                ink("M 290 182 L 326 170", 1.0),
                dark(ellipse(345, 166, 3, 6)),
                ink("M 300 166 L 296 152", 2.2),
            ),
            words_at=(304, 190),
        ),
    },
)

SILHOUETTE = (
    *(CHAIN_SIDE.shapes[name].strokes for name in ("frame", "engine", "footrest", "stand")),
    (thing(_PANEL.pieces[0]), *_PANEL.strokes),
    (*_chain(250, 211, 316, 218), *_chain(250, 240, 316, 280)),
)
"""What fills in the flank with the chain where its regions are seen from further off and cannot be tapped."""
