"""The machine seen from above: sitting on it, and with its seat up and its caps open."""

from __future__ import annotations

import math

from wreckwright.papers.walk_paths import box, ellipse, flipped, smooth_corners, whole
from wreckwright.papers.walk_strokes import Shape, Stroke, View, both, dark, ink, pair, thing


def _hand() -> tuple[Stroke, ...]:
    """Lever, its holder, switches, grip and end weight of the left hand."""
    return (
        thing(smooth_corners([(100, 150), (108, 162), (20, 208), (12, 194)], 5), 1.6),
        thing(smooth_corners([(62, 168), (70, 184), (16, 212), (8, 196)], 6), 1.8),
        ink("M 56 175 L 62 188 M 46 180 L 52 193 M 36 185 L 42 198 M 26 190 L 32 203", 1.0),
        thing(smooth_corners([(8, 196), (16, 212), (10, 216), (3, 201)], 3)),
        thing(smooth_corners([(86, 150), (97, 172), (76, 184), (64, 162)], 5), 1.6),
        ink(ellipse(77, 166, 3.2), 1.0),
        ink("M 84 160 L 90 172", 1.0),
        ink(ellipse(84, 174, 2.2), 1.0),
    )


_LEFT_HAND: tuple[Stroke, ...] = (
    thing("M 98 132 C 80 132 42 148 16 172 C 12 176 16 180 22 177 C 48 158 80 146 100 146 Z", 1.6),
    *_hand(),
    thing(smooth_corners([(90, 126), (110, 128), (112, 160), (98, 164)], 4), 1.6),
    ink(ellipse(101, 136, 3), 1.0),
)
_RIGHT_HAND: tuple[Stroke, ...] = tuple(
    Stroke(flipped(stroke.path), stroke.width, stroke.solid, stroke.dark) for stroke in _LEFT_HAND
) + (
    # The reservoir of the front brake.
    thing(box(246, 116, 32, 26, 5), 1.6),
    ink(box(250, 120, 24, 18, 3), 0.9),
    dark(ellipse(254, 124, 1.4)),
    dark(ellipse(270, 134, 1.4)),
)

ASTRIDE = View(
    height=486.0,
    words="Looking down on the bars and the tank from the seat: the left hand is on the left of the picture.",
    behind=(
        # Screen and the top of the front mudguard before the dash, seat below.
        thing(whole("M 180 4 C 146 4 122 20 112 52 L 108 84 L 180 84")),
        ink("M 126 60 C 132 34 152 18 180 16 C 208 18 228 34 234 60", 1.0),
        *both(ink("M 62 70 C 70 96 84 110 100 130", 3.0)),
        thing(whole("M 180 440 C 148 440 130 452 118 486 L 180 486")),
        ink("M 132 486 C 142 462 156 452 180 452 C 204 452 218 462 228 486", 1.0),
    ),
    shapes={
        "mirrors": Shape(
            pieces=pair("M 17 44 C 15 18 36 7 64 7 C 98 7 108 24 105 46 C 102 68 82 79 56 78 C 30 77 19 62 17 44 Z"),
            strokes=both(
                ink("M 27 44 C 26 26 42 16 64 16 C 90 16 97 29 95 44 C 92 61 76 69 57 68 C 38 67 28 58 27 44 Z", 1.0),
                ink("M 44 52 L 64 30 M 58 56 L 74 38", 1.0),
            ),
            words_at=(61, 62),
        ),
        "dash": Shape(
            pieces=(smooth_corners([(128, 54), (232, 54), (240, 66), (228, 134), (132, 134), (120, 66)], 10),),
            strokes=(
                thing(smooth_corners([(136, 60), (224, 60), (230, 68), (224, 104), (136, 104), (130, 68)], 7), 1.8),
                ink(box(142, 66, 76, 30, 3), 1.0),
                ink("M 148 88 L 160 88 M 148 82 L 172 82 M 148 76 L 166 76", 1.2),
                ink("M 184 90 L 210 74", 1.0),
                ink("M 180 96 L 180 66", 0.8),
                thing(ellipse(180, 119, 12), 1.6),
                ink(ellipse(180, 119, 7), 1.0),
                ink("M 180 113 L 180 125", 2.2),
            ),
            words_at=(180, 84),
        ),
        "left_hand": Shape(
            pieces=(
                smooth_corners(
                    [(80, 112), (110, 116), (111, 164), (94, 194), (18, 228), (2, 210), (3, 164), (34, 134)], 12
                ),
            ),
            strokes=_LEFT_HAND,
            words_at=(48, 206),
        ),
        "bars": Shape(
            pieces=(smooth_corners([(120, 139), (240, 139), (244, 162), (238, 198), (122, 198), (116, 162)], 9),),
            strokes=(
                thing(
                    "M 116 158 C 126 150 138 154 150 160 C 162 164 198 164 210 160 C 222 154 234 150 244 158 L 244 170"
                    " C 232 164 224 168 212 172 C 198 178 162 178 148 172 C 136 168 128 164 116 170 Z",
                    1.6,
                ),
                *both(
                    thing(box(146, 154, 18, 32, 4), 1.6),
                    ink(ellipse(155, 161, 3), 1.0),
                    ink(ellipse(155, 179, 3), 1.0),
                    ink("M 116 152 C 126 142 142 142 150 148", 2.0),
                ),
                ink("M 118 176 C 128 194 150 196 176 194", 1.8),
                ink("M 242 176 C 232 190 214 192 190 190", 1.8),
            ),
            words_at=(180, 188),
        ),
        "right_hand": Shape(
            pieces=(
                smooth_corners(
                    [(249, 112), (280, 112), (326, 134), (357, 164), (358, 210), (342, 228), (266, 194), (249, 164)], 12
                ),
            ),
            strokes=_RIGHT_HAND,
            words_at=(312, 206),
        ),
        "head": Shape(
            pieces=(smooth_corners([(120, 204), (240, 204), (240, 244), (214, 266), (146, 266), (120, 244)], 9),),
            strokes=(
                thing(
                    whole(
                        "M 180 222 C 166 222 160 210 144 209 C 128 208 124 222 128 232 C 132 242 146 242 156 246"
                        " C 164 250 168 260 180 260"
                    ),
                    1.8,
                ),
                *both(ink(ellipse(142, 224, 10), 1.4), ink(ellipse(142, 224, 5), 1.0)),
                thing(smooth_corners([(180, 228), (190, 234), (190, 246), (180, 252), (170, 246), (170, 234)], 2), 1.6),
                ink(ellipse(180, 240, 5), 1.0),
            ),
            words_at=(180, 256),
        ),
        "tank": Shape(
            pieces=(whole("M 180 272 C 150 272 120 274 104 288 C 86 306 84 344 96 376 C 108 408 132 436 180 436"),),
            strokes=(
                thing(ellipse(180, 316, 25), 1.8),
                ink(ellipse(180, 316, 19), 1.0),
                ink(ellipse(180, 322, 5), 1.0),
                *(
                    dark(ellipse(180 + 22 * math.cos(turn), 316 + 22 * math.sin(turn), 1.6))
                    for turn in (0.3, 1.6, 2.9, 4.7)
                ),
                ink(
                    whole("M 180 286 C 150 284 124 290 114 302 C 102 318 102 344 110 368 C 120 396 144 420 180 422"),
                    1.0,
                ),
                ink("M 180 352 L 180 424", 1.0),
            ),
            words_at=(180, 376),
        ),
    },
)

SEAT_UP = View(
    height=470.0,
    words="Looking down with the seat off and the caps open: the front is at the top of the picture.",
    behind=(
        *both(
            ink("M 180 22 C 150 20 130 8 100 12", 5.0),
            thing(smooth_corners([(102, 4), (104, 20), (42, 34), (38, 20)], 6)),
            ink("M 92 9 L 94 20 M 80 12 L 82 23 M 68 14 L 70 26 M 56 17 L 58 28", 0.9),
        ),
        thing(box(150, 14, 60, 16, 6)),
        # Rails of the rear frame, tail with its lamp, side panels.
        thing(whole("M 180 150 L 108 158 C 100 220 104 320 128 396 L 146 440 L 180 444"), 1.2),
        thing(whole("M 180 156 L 116 162 C 110 222 114 318 136 392 L 152 428 L 180 430"), 1.4),
        thing(whole("M 180 398 L 132 396 C 134 424 146 452 160 460 L 180 462"), 1.6),
        ink(whole("M 180 446 L 152 442 L 158 456 L 180 458"), 1.0),
        *both(ink("M 142 424 L 106 432", 3.0), thing(ellipse(98, 434, 9, 6))),
        # Loom along the right-hand rail.
        ink("M 236 162 C 246 200 240 240 244 286 C 244 330 236 360 226 392", 2.4),
        ink("M 240 210 C 232 214 226 214 220 208", 1.6),
    ),
    shapes={
        "tank": Shape(
            pieces=(whole("M 180 36 C 148 34 112 38 98 54 C 84 76 92 112 106 132 Q 116 146 136 146 L 180 148"),),
            strokes=(
                thing(ellipse(180, 92, 33), 1.8),
                ink(ellipse(180, 92, 27), 1.0),
                dark(ellipse(180, 92, 20)),
                thing("M 206 62 C 212 46 232 44 240 54 C 248 66 240 80 226 82 C 214 82 206 74 206 62 Z", 1.6),
                ink("M 212 62 C 216 52 230 50 234 57 C 240 66 234 75 225 76 C 217 76 212 70 212 62 Z", 1.0),
                ink("M 206 72 L 198 76", 3.0),
                ink("M 112 64 C 104 82 110 108 120 124", 1.0),
            ),
            words_at=(180, 136),
        ),
        "coolant": Shape(
            pieces=(smooth_corners([(30, 150), (94, 150), (94, 222), (30, 222)], 10),),
            strokes=(
                thing(smooth_corners([(44, 180), (82, 180), (88, 192), (84, 216), (42, 216), (36, 192)], 6), 1.8),
                thing(box(54, 168, 18, 13, 2)),
                ink("M 40 196 L 86 196", 1.0),
                ink("M 76 204 L 83 204 M 76 210 L 83 210", 1.0),
                thing(ellipse(74, 159, 11, 6)),
                ink("M 66 157 L 82 157", 0.9),
                ink("M 84 210 C 100 214 104 226 118 228", 3.0),
            ),
            words_at=(62, 206),
        ),
        "starting": Shape(
            pieces=(smooth_corners([(120, 164), (232, 164), (230, 222), (120, 222)], 9),),
            strokes=(
                thing(box(132, 176, 28, 34, 5), 1.6),
                ink(ellipse(140, 184, 3.4), 1.0),
                ink(ellipse(152, 184, 3.4), 1.0),
                ink("M 137 198 L 155 198 M 137 203 L 155 203", 1.0),
                ink("M 140 181 C 138 170 150 168 158 170", 2.4),
                ink("M 152 181 C 154 176 166 174 174 180", 2.4),
                thing(box(176, 178, 44, 24, 8), 1.6),
                ink("M 188 178 L 188 202 M 210 178 L 210 202", 1.0),
                thing(box(219, 184, 9, 12, 2)),
                dark(ellipse(198, 178, 2.4)),
            ),
            words_at=(180, 212),
        ),
        "battery": Shape(
            pieces=(smooth_corners([(119, 228), (233, 228), (231, 312), (123, 312)], 9),),
            strokes=(
                thing(box(131, 238, 92, 66, 4), 1.8),
                ink(box(137, 244, 80, 54, 2), 0.9),
                ink("M 150 254 L 150 266 M 144 260 L 156 260", 1.8),
                ink("M 198 260 L 210 260", 1.8),
                thing(box(138, 270, 14, 12, 2)),
                thing(box(202, 270, 14, 12, 2)),
                ink("M 145 270 C 140 250 126 246 122 236", 3.0),
                ink("M 209 276 C 224 276 228 264 230 252", 3.0),
                ink("M 177 238 L 177 304", 4.0),
            ),
            words_at=(177, 290),
        ),
        "charging": Shape(
            pieces=(smooth_corners([(125, 318), (231, 318), (224, 376), (138, 378)], 9),),
            strokes=(
                thing(box(140, 328, 50, 38, 3), 1.6),
                ink(
                    "M 147 328 L 147 366 M 154 328 L 154 366 M 161 328 L 161 366"
                    " M 168 328 L 168 366 M 175 328 L 175 366 M 182 328 L 182 366",
                    0.9,
                ),
                thing(box(198, 334, 20, 22, 3), 1.6),
                ink("M 202 345 L 214 345 M 208 339 L 208 351", 1.0),
                ink("M 190 348 C 194 362 204 362 210 372", 1.8),
            ),
            words_at=(178, 366),
        ),
        "seat": Shape(
            pieces=(
                "M 276 172 C 292 164 318 166 334 180 C 348 196 344 226 338 250 C 348 284 350 330 338 372"
                " C 328 404 294 404 284 374 C 270 332 268 284 276 250 C 266 226 262 188 276 172 Z",
            ),
            strokes=(
                ink(
                    "M 282 184 C 294 176 314 178 326 188 C 334 200 332 226 326 246"
                    " C 310 252 298 252 286 246 C 278 226 274 198 282 184 Z",
                    1.0,
                ),
                ink(
                    "M 286 262 C 298 268 314 268 328 262 C 336 292 336 332 328 364"
                    " C 320 384 300 384 294 364 C 284 330 282 292 286 262 Z",
                    1.0,
                ),
                ink("M 306 274 L 308 360", 0.9),
            ),
            words_at=(307, 216),
        ),
    },
)
