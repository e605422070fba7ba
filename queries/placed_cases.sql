-- Cases with their place on the odometer and on the clock of the engine.
-- Row: one case.
-- Key: case_no; source, case_id.
-- Grain: as cases_now.
-- case_no: a whole number by which later statements join, in which cases of one vehicle stand in order of opening, end, source and
--   case_id. Its beginning is the slice's, so that no two slices have the same.
-- known_m: the odometer where the reading was kept (odometer_checks), else unknown.
-- position_m: on the clock of the engine that failed, the one before any replacement at this very reading.
-- seen_before: 1 when the same engine in the same odometer segment was seen on an earlier day at a lower odometer (rows of
--   one day do not count); with an unknown odometer, when a span of the vehicle that began on an earlier day has a
--   sighting on the day of the case or later.
-- observed: 1 when, beyond that, observation had not ended on that day (observation_ends).
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH placed AS (
    SELECT
        CAST(:first_vehicle AS BIGINT) * 10000000 + CAST(ROW_NUMBER() OVER (
            ORDER BY c.vehicle, c.opened, c.ended, c.source, c.case_id
        ) AS BIGINT) AS case_no,
        c.source, c.case_id, c.vehicle, c.site, c.opened, c.ended, c.codes, c.complaint_cylinder, c.outcome,
        r.odometer_m AS known_m,
        r.segment AS reading_segment,
        r.engine_no - r.replaced AS reading_engine,
        r.odometer_m - r.before_origin_m AS position_m
    FROM cases_now AS c
    LEFT JOIN readings AS r
        ON c.vehicle = r.vehicle AND CAST(c.opened AS BIGINT) * 100000000000 + c.odometer_m = r.place
    WHERE c.vehicle >= :first_vehicle AND c.vehicle < :end_vehicle
),
watched AS (
    SELECT
        p.case_no,
        MAX(s.engine_no) AS span_engine,
        MAX(CASE WHEN p.opened <= s.exit_date THEN 1 ELSE 0 END) AS observed
    FROM placed AS p
    JOIN spans AS s ON p.vehicle = s.vehicle
    WHERE s.entry_date < p.opened
        AND p.opened <= s.sighting_date
        AND (
            p.known_m IS NULL
            OR (
                s.engine_no = p.reading_engine
                AND s.segment = p.reading_segment
                AND s.entry_odometer_m < p.known_m
                AND p.known_m <= s.sighting_odometer_m
            )
        )
    GROUP BY p.case_no
)
SELECT
    p.case_no, p.source, p.case_id, p.vehicle, p.site, p.opened, p.ended, p.codes, p.complaint_cylinder, p.outcome,
    p.known_m,
    p.reading_segment AS segment,
    COALESCE(p.reading_engine, w.span_engine) AS engine_no,
    p.position_m,
    v.engine_family,
    v.model_year,
    CAST(CASE WHEN w.span_engine IS NULL THEN 0 ELSE 1 END AS BIGINT) AS seen_before,
    CAST(COALESCE(w.observed, 0) AS BIGINT) AS observed
FROM placed AS p
LEFT JOIN watched AS w ON p.case_no = w.case_no
LEFT JOIN vehicles AS v ON p.vehicle = v.vehicle
