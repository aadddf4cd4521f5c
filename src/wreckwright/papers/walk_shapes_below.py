"""The machine from ten paces off, and from underneath."""

from __future__ import annotations

from dataclasses import replace

from wreckwright.papers.walk_paths import box, ellipse, placed, smooth_corners
from wreckwright.papers.walk_shapes_flanks import CHAIN_SIDE, SILHOUETTE
from wreckwright.papers.walk_strokes import Shape, Stroke, View, both, dark, ink, thing

_FAR = 0.8


def _far(stroke: Stroke) -> Stroke:
    return replace(stroke, path=placed(stroke.path, 34, 0, _FAR), width=stroke.width * 0.9)


def _ticks(left: float, top: float, every: float, count: int, tall: float) -> str:
    """Small upright strokes in a row, like figures too far off to be read."""
    return " ".join(f"M {left + every * n:g} {top:g} L {left + every * n:g} {top + tall:g}" for n in range(count))


TEN_PACES = View(
    height=364.0,
    words="The whole machine from ten paces off, with its number and its distance drawn larger; below it the papers,"
    " the keys and a box of small parts.",
    behind=(
        *map(_far, CHAIN_SIDE.behind),
        *(_far(stroke) for strokes in SILHOUETTE for stroke in strokes),
        # From the frame head to its number, from the instruments to the distance.
        ink("M 124 92 L 80 56", 1.0),
        dark(ellipse(124, 92, 2.6)),
        ink("M 132 52 C 160 36 190 28 226 30", 1.0),
        dark(ellipse(132, 52, 2.6)),
    ),
    shapes={
        "number": Shape(
            pieces=("M 10 10 Q 44 2 82 8 Q 90 34 84 62 Q 48 72 8 66 Q 2 36 10 10 Z",),
            strokes=(
                thing(smooth_corners([(12, 18), (78, 14), (80, 54), (14, 58)], 8), 1.6),
                thing(box(20, 25, 52, 22, 3), 1.2),
                ink(_ticks(26, 32, 5, 9, 9), 1.8),
            ),
            words_at=(46, 58),
        ),
        "distance": Shape(
            pieces=("M 232 12 Q 286 2 344 8 Q 356 36 350 62 Q 292 74 234 66 Q 224 38 232 12 Z",),
            strokes=(
                thing(smooth_corners([(240, 16), (338, 14), (344, 56), (236, 58)], 9), 1.6),
                *(thing(box(248.5 + 14.5 * n, 25, 12.5, 22, 2), 1.2) for n in range(6)),
                ink(_ticks(254.7, 31, 14.5, 6, 10), 1.8),
            ),
            words_at=(290, 58),
        ),
        "papers": Shape(
            pieces=("M 22 282 Q 60 272 104 280 Q 114 316 106 354 Q 62 362 16 354 Q 8 316 22 282 Z",),
            strokes=(
                thing(smooth_corners([(38, 288), (90, 285), (94, 343), (42, 347)], 2), 1.2),
                thing(smooth_corners([(32, 290), (82, 288), (84, 347), (34, 349)], 2), 1.6),
                ink("M 40 300 L 74 299 M 40 308 L 74 307 M 40 316 L 62 315", 1.0),
                ink(ellipse(67, 331, 9), 1.2),
                ink("M 61 331 L 73 331", 1.0),
            ),
            words_at=(62, 345),
        ),
        "keys": Shape(
            pieces=("M 132 282 Q 178 272 226 280 Q 238 316 230 354 Q 180 362 130 354 Q 120 316 132 282 Z",),
            strokes=(
                ink(ellipse(160, 302, 13), 2.2),
                thing(smooth_corners([(164, 306), (178, 300), (188, 310), (182, 322), (170, 324), (162, 316)], 5), 1.6),
                thing(
                    smooth_corners(
                        [
                            (184, 314),
                            (218, 334),
                            (214, 342),
                            (208, 338),
                            (206, 342),
                            (200, 339),
                            (199, 336),
                            (180, 322),
                        ],
                        1.5,
                    )
                ),
                ink(ellipse(172, 312, 2.6), 1.0),
                thing(smooth_corners([(152, 312), (164, 314), (166, 328), (154, 330), (146, 322)], 4), 1.6),
                thing(smooth_corners([(154, 329), (163, 328), (166, 350), (161, 352), (159, 346), (157, 344)], 1.5)),
            ),
            words_at=(196, 290),
        ),
        "loose": Shape(
            pieces=("M 254 282 Q 300 272 344 280 Q 354 316 346 354 Q 300 362 252 354 Q 244 316 254 282 Z",),
            strokes=(
                thing(smooth_corners([(262, 312), (336, 312), (330, 347), (268, 347)], 4), 1.8),
                thing(
                    smooth_corners(
                        [
                            (276, 292),
                            (288, 292),
                            (288, 300),
                            (285, 300),
                            (285, 312),
                            (279, 312),
                            (279, 300),
                            (276, 300),
                        ],
                        1,
                    )
                ),
                ink("M 279 304 L 285 303 M 279 308 L 285 307", 0.9),
                thing(smooth_corners([(298, 296), (305, 292), (312, 296), (312, 304), (305, 308), (298, 304)], 1)),
                ink(ellipse(305, 300, 3), 1.0),
                thing(ellipse(324, 303, 7)),
                ink(ellipse(324, 303, 3), 1.0),
                ink("M 264 322 L 334 322", 1.0),
            ),
            words_at=(299, 338),
        ),
    },
)

ON_KNEES = View(
    height=450.0,
    words="The machine from underneath, its front at the top: its left side is on the right of the picture.",
    behind=(
        # Front wheel with fork ends and discs; rear wheel with swing arm.
        *both(
            thing(box(120, 4, 20, 40, 5)),
            thing(box(146, 2, 4, 62, 2), 1.1),
            ink("M 124 22 L 136 22", 1.0),
        ),
        thing("M 154 -6 L 154 48 C 154 68 166 76 180 76 C 194 76 206 68 206 48 L 206 -6 Z", 1.8),
        ink(
            "M 160 6 L 176 16 M 200 6 L 184 16 M 160 24 L 176 34 M 200 24 L 184 34 M 160 42 L 176 52 M 200 42 L 184 52",
            1.6,
        ),
        *both(thing(smooth_corners([(140, 332), (116, 342), (120, 456), (138, 456), (140, 380), (160, 352)], 6), 1.4)),
        thing(box(218, 330, 5, 126, 2), 1.1),
        ink("M 218 340 L 223 340 M 218 350 L 223 350 M 218 360 L 223 360", 0.9),
        thing("M 146 456 L 146 396 C 146 374 160 364 180 364 C 200 364 214 374 214 396 L 214 456 Z", 1.8),
        ink(
            "M 152 392 L 174 406 M 208 392 L 186 406 M 152 412 L 174 426 M 208 412 L 186 426 M 152 432 L 174 446"
            " M 208 432 L 186 446",
            1.6,
        ),
        # Cradle of the frame, footrests, side stand on the machine's left.
        *both(ink("M 128 84 C 96 110 84 170 88 232 C 92 290 108 324 138 338", 5.0)),
        *both(
            thing(box(22, 318, 64, 13, 5)),
            ink("M 32 319 L 32 330 M 42 319 L 42 330 M 52 319 L 52 330", 0.9),
            ink("M 86 324 L 116 322", 4.0),
        ),
        thing(smooth_corners([(238, 318), (250, 312), (308, 404), (296, 410)], 4), 1.6),
        thing(smooth_corners([(288, 402), (316, 398), (318, 410), (292, 414)], 3)),
        # The pipe along the machine's right, to the silencer.
        thing(
            "M 84 128 C 60 150 54 200 56 250 C 58 300 62 350 62 400 L 62 456 L 92 456 L 92 400 C 90 340 78 300 76 250"
            " C 74 206 80 164 96 140 Z",
            1.4,
        ),
        thing(smooth_corners([(56, 380), (98, 380), (102, 456), (52, 456)], 8), 1.4),
        # Outline of the engine.
        thing(
            smooth_corners(
                [(126, 120), (234, 120), (256, 156), (252, 300), (222, 334), (138, 334), (108, 300), (104, 156)], 14
            ),
            1.6,
        ),
    ),
    shapes={
        "header": Shape(
            pieces=(smooth_corners([(100, 86), (260, 86), (270, 146), (72, 150), (70, 128)], 12),),
            strokes=(
                thing(
                    "M 220 92 C 224 116 210 130 186 132 C 150 136 116 134 92 146 L 82 136 C 108 118 146 122 182 118"
                    " C 198 116 204 108 202 92 Z",
                    1.6,
                ),
                thing(
                    "M 158 92 C 160 112 150 122 132 122 C 112 122 96 128 88 146 L 76 138 C 84 116 104 106 126 106"
                    " C 138 106 140 102 140 92 Z",
                    1.6,
                ),
                thing(box(134, 87, 30, 8, 3)),
                thing(box(196, 87, 30, 8, 3)),
            ),
            words_at=(180, 138),
        ),
        "casings": Shape(
            pieces=(smooth_corners([(112, 156), (248, 156), (248, 218), (112, 218)], 9),),
            strokes=(
                thing(smooth_corners([(120, 162), (240, 162), (240, 212), (120, 212)], 7), 1.6),
                ink("M 180 162 L 180 212", 1.6),
                ink("M 138 170 L 138 204 M 156 170 L 156 204 M 204 170 L 204 204 M 222 170 L 222 204", 1.0),
                *(dark(ellipse(x, y, 1.8)) for x in (128, 172, 188, 232) for y in (170, 204)),
            ),
            words_at=(180, 206),
        ),
        "sump": Shape(
            pieces=(smooth_corners([(114, 224), (246, 224), (242, 304), (222, 326), (138, 326), (118, 304)], 9),),
            strokes=(
                thing(
                    smooth_corners([(124, 232), (236, 232), (232, 300), (216, 318), (144, 318), (128, 300)], 10), 1.8
                ),
                ink(smooth_corners([(134, 242), (226, 242), (222, 296), (210, 308), (150, 308), (138, 296)], 8), 1.0),
                ink("M 150 250 L 150 276 M 162 250 L 162 276 M 198 250 L 198 276 M 210 250 L 210 276", 1.0),
                thing(smooth_corners([(180, 274), (192, 281), (192, 295), (180, 302), (168, 295), (168, 281)], 1), 1.6),
                ink(ellipse(180, 288, 7), 1.0),
                *(
                    dark(ellipse(x, y, 1.8))
                    for x, y in ((130, 238), (230, 238), (130, 272), (229, 272), (146, 313), (214, 313))
                ),
            ),
            words_at=(180, 262),
        ),
        "oil": Shape(
            pieces=(smooth_corners([(262, 196), (338, 196), (338, 272), (262, 272)], 12),),
            strokes=(
                thing(ellipse(296, 228, 24), 1.8),
                ink(ellipse(296, 228, 18), 1.0),
                dark("M 278.6 233 L 313.4 233 C 311 242 304 246 296 246 C 288 246 281 242 278.6 233 Z"),
                ink("M 286 222 L 306 222 M 286 236 L 306 236", 0.9),
                thing(
                    "M 326 238 C 331 246 333 251 333 255 C 333 260 330 263 326 263 C 322 263 319 260 319 255"
                    " C 319 251 321 246 326 238 Z"
                ),
            ),
            words_at=(300, 262),
        ),
    },
)
