"""The questions of the light commands as SQL. Written by `python -m sentinel.adapters.store.freeze`."""

from sentinel.adapters.store.connection import Asked, FrozenQuestion

# fmt: off
FROZEN: dict[Asked, FrozenQuestion] = {
    ('cases', ()): FrozenQuestion(
        """SELECT concern.site, concern.seq, concern.subject, concern.kind, concern.case_seq, concern.cause_seq,
concern.times, concern.opened_at, concern.closed_at, concern.severity, concern.told_at, concern.reminded,
concern.escalated, concern.gone_since, case_silence.acknowledged AS silence_acknowledged,
case_silence."by" AS silence_by, case_silence.note AS silence_note, case_silence.until AS silence_until,
case_silence.at AS silence_at, case_silence.severity AS silence_severity FROM concern LEFT OUTER JOIN
(SELECT case_silence.case_seq AS case_seq, max(case_silence.seq) AS seq FROM case_silence WHERE
case_silence.site = :site GROUP BY case_silence.case_seq) AS anon_1 ON anon_1.case_seq = concern.case_seq
LEFT OUTER JOIN case_silence ON case_silence.site = :site AND case_silence.seq = anon_1.seq WHERE
concern.site = :site AND concern.closed_at IS NULL ORDER BY concern.seq""",
        {},
        (),
        (('site', ''), ('seq', ''), ('subject', ''), ('kind', ''), ('case_seq', ''), ('cause_seq', ''), ('times',
         ''), ('opened_at', 'time'), ('closed_at', 'time'), ('severity', ''), ('told_at', 'time'),
         ('reminded', ''), ('escalated', ''), ('gone_since', 'time'), ('silence_acknowledged', 'flag'),
         ('silence_by', ''), ('silence_note', ''), ('silence_until', 'time'), ('silence_at', 'time'),
         ('silence_severity', '')),
    ),
    ('cases', ('since',)): FrozenQuestion(
        """SELECT concern.site, concern.seq, concern.subject, concern.kind, concern.case_seq, concern.cause_seq,
concern.times, concern.opened_at, concern.closed_at, concern.severity, concern.told_at, concern.reminded,
concern.escalated, concern.gone_since, case_silence.acknowledged AS silence_acknowledged,
case_silence."by" AS silence_by, case_silence.note AS silence_note, case_silence.until AS silence_until,
case_silence.at AS silence_at, case_silence.severity AS silence_severity FROM concern LEFT OUTER JOIN
(SELECT case_silence.case_seq AS case_seq, max(case_silence.seq) AS seq FROM case_silence WHERE
case_silence.site = :site GROUP BY case_silence.case_seq) AS anon_1 ON anon_1.case_seq = concern.case_seq
LEFT OUTER JOIN case_silence ON case_silence.site = :site AND case_silence.seq = anon_1.seq WHERE
concern.site = :site AND (concern.closed_at IS NULL OR concern.closed_at >= :since) ORDER BY concern.seq""",
        {},
        (),
        (('site', ''), ('seq', ''), ('subject', ''), ('kind', ''), ('case_seq', ''), ('cause_seq', ''), ('times',
         ''), ('opened_at', 'time'), ('closed_at', 'time'), ('severity', ''), ('told_at', 'time'),
         ('reminded', ''), ('escalated', ''), ('gone_since', 'time'), ('silence_acknowledged', 'flag'),
         ('silence_by', ''), ('silence_note', ''), ('silence_until', 'time'), ('silence_at', 'time'),
         ('silence_severity', '')),
    ),
    ('check_before', ('at', 'condition', 'seq')): FrozenQuestion(
        """SELECT "check".site, "check".seq, "check".sha256, "check".table_no, "check".condition, "check".file_name,
"check".verdict, "check".reasons, "check".metrics, "check".measured_at, "check".measured_offset_minutes,
"check".printed_at, "check".arrived_at, "check".target, "check".target_hash, "check".target_table,
"check".limits, "check".reckoning, "check".recovered, "check".diagnosis, "check".moved,
"check".rules_version, "check".head_set, "check".ink_set, "check".instrument, "check".m_condition,
"check".backing, "check".illuminant, "check".observer, "check".patches, "check".matched,
"check".chart_hash FROM "check" WHERE "check".site = :site AND "check".condition = :condition AND
("check".measured_at < :at OR "check".measured_at = :at AND "check".seq < :seq) AND coalesce((SELECT
check_counter_entry.kind FROM check_counter_entry WHERE check_counter_entry.site = "check".site AND
check_counter_entry.check_seq = "check".seq ORDER BY check_counter_entry.seq DESC LIMIT :param_1 OFFSET
:param_2), :coalesce_1) = :coalesce_2 ORDER BY "check".measured_at DESC, "check".seq DESC LIMIT :param_3
OFFSET :param_4""",
        {'param_1': 1, 'param_2': 0, 'coalesce_1': 'reinstated', 'coalesce_2': 'reinstated', 'param_3': 1,
         'param_4': 0},
        (),
        (('site', ''), ('seq', ''), ('sha256', ''), ('table_no', ''), ('condition', ''), ('file_name', ''),
         ('verdict', ''), ('reasons', 'json'), ('metrics', 'json'), ('measured_at', 'time'),
         ('measured_offset_minutes', ''), ('printed_at', 'time'), ('arrived_at', 'time'), ('target', ''),
         ('target_hash', ''), ('target_table', ''), ('limits', 'json'), ('reckoning', 'json'),
         ('recovered', 'flag'), ('diagnosis', 'json'), ('moved', 'json'), ('rules_version', ''),
         ('head_set', ''), ('ink_set', ''), ('instrument', ''), ('m_condition', ''), ('backing', ''),
         ('illuminant', ''), ('observer', ''), ('patches', ''), ('matched', ''), ('chart_hash', '')),
    ),
    ('forecasts', ()): FrozenQuestion(
        """SELECT outlook.condition, outlook.foretold FROM outlook WHERE outlook.site = :site AND outlook.foretold
IS NOT NULL""",
        {},
        (),
        (('condition', ''), ('foretold', 'json')),
    ),
    ('risk_outlooks', ()): FrozenQuestion(
        """SELECT risk_outlook.condition, risk_outlook.expected FROM risk_outlook WHERE risk_outlook.site = :site
AND risk_outlook.expected IS NOT NULL""",
        {},
        (),
        (('condition', ''), ('expected', 'json')),
    ),
    ('given_up_by_url', ()): FrozenQuestion(
        """SELECT outbox.recipient, outbox.url_no, count(*) AS notices, min(outbox.created_at) AS first,
max(outbox.created_at) AS last FROM outbox WHERE outbox.site = :site AND outbox.status = :status_1 AND
NOT (EXISTS (SELECT * FROM outbox AS outbox_1 WHERE outbox_1.site = outbox.site AND outbox_1.summary_seq
= outbox.seq)) AND NOT (outbox."key" > :key_1 AND outbox."key" < :key_2) GROUP BY outbox.recipient,
outbox.url_no ORDER BY outbox.recipient, outbox.url_no""",
        {'status_1': 'given-up', 'key_1': 'undelivered-', 'key_2': 'undelivered.'},
        (),
        (('recipient', ''), ('url_no', ''), ('notices', ''), ('first', 'time'), ('last', 'time')),
    ),
    ('late_arrivals', ('since',)): FrozenQuestion(
        """SELECT outbox.recipient, outbox.url_no, outbox.created_at, outbox.retried_at, delivery.at FROM delivery
JOIN outbox ON outbox.site = delivery.site AND outbox.seq = delivery.outbox_seq WHERE delivery.site =
:site AND delivery.arrived = 1 AND delivery.at >= :since AND outbox.tries > :tries_1 AND NOT
(outbox."key" > :key_1 AND outbox."key" < :key_2) ORDER BY delivery.seq""",
        {'tries_1': 1, 'key_1': 'undelivered-', 'key_2': 'undelivered.'},
        (),
        (('recipient', ''), ('url_no', ''), ('created_at', 'time'), ('retried_at', 'time'), ('at', 'time')),
    ),
    ('latest_checks', ('recent',)): FrozenQuestion(
        """SELECT anon_1.condition, anon_1.seq, anon_1.measured_at, anon_1.verdict, anon_1.recovered,
anon_1.target_hash, anon_1.limits, anon_1.place, anon_1.decides FROM (SELECT "check".condition AS
condition, "check".seq AS seq, "check".measured_at AS measured_at, "check".verdict AS verdict,
"check".recovered AS recovered, "check".target_hash AS target_hash, "check".limits AS limits,
row_number() OVER (PARTITION BY "check".condition ORDER BY "check".measured_at DESC, "check".seq DESC) AS
place, ("check".verdict = :verdict_1 OR "check".recovered = 1) AND row_number() OVER (PARTITION BY
"check".condition, "check".verdict = :verdict_1 OR "check".recovered = 1 ORDER BY "check".measured_at
DESC, "check".seq DESC) <= :param_1 AS decides FROM "check" WHERE "check".site = :site AND
"check".verdict != :verdict_2 AND coalesce((SELECT check_counter_entry.kind FROM check_counter_entry
WHERE check_counter_entry.site = "check".site AND check_counter_entry.check_seq = "check".seq ORDER BY
check_counter_entry.seq DESC LIMIT :param_2 OFFSET :param_3), :coalesce_1) = :coalesce_2) AS anon_1 WHERE
anon_1.place <= :recent OR anon_1.decides = 1""",
        {'verdict_1': 'fail', 'param_1': 2, 'verdict_2': 'unscored', 'param_2': 1, 'param_3': 0, 'coalesce_1':
         'reinstated', 'coalesce_2': 'reinstated'},
        (),
        (('condition', ''), ('seq', ''), ('measured_at', 'time'), ('verdict', ''), ('recovered', 'flag'),
         ('target_hash', ''), ('limits', 'json'), ('place', ''), ('decides', 'flag')),
    ),
    ('moments', ()): FrozenQuestion(
        """SELECT moment.part, moment.at FROM moment WHERE moment.site = :site""",
        {},
        (),
        (('part', ''), ('at', 'time')),
    ),
    ('newest_settings', ()): FrozenQuestion(
        """SELECT settings_in_force.path, settings_in_force.fingerprint FROM settings_in_force WHERE
settings_in_force.site = :site ORDER BY settings_in_force.seq DESC LIMIT :param_1 OFFSET :param_2""",
        {'param_1': 1, 'param_2': 0},
        (),
        (('path', ''), ('fingerprint', '')),
    ),
    ('outbox_counts', ()): FrozenQuestion(
        """SELECT outbox.status, count(*) AS notices FROM outbox WHERE outbox.site = :site GROUP BY outbox.status""",
        {},
        (),
        (('status', ''), ('notices', '')),
    ),
    ('recorded_checks', ('seq',)): FrozenQuestion(
        """SELECT "check".site, "check".seq, "check".sha256, "check".table_no, "check".condition, "check".file_name,
"check".verdict, "check".reasons, "check".metrics, "check".measured_at, "check".measured_offset_minutes,
"check".printed_at, "check".arrived_at, "check".target, "check".target_hash, "check".target_table,
"check".limits, "check".reckoning, "check".recovered, "check".diagnosis, "check".moved,
"check".rules_version, "check".head_set, "check".ink_set, "check".instrument, "check".m_condition,
"check".backing, "check".illuminant, "check".observer, "check".patches, "check".matched,
"check".chart_hash FROM "check" WHERE "check".site = :site AND "check".seq = :seq ORDER BY
"check".measured_at DESC, "check".seq DESC""",
        {},
        (),
        (('site', ''), ('seq', ''), ('sha256', ''), ('table_no', ''), ('condition', ''), ('file_name', ''),
         ('verdict', ''), ('reasons', 'json'), ('metrics', 'json'), ('measured_at', 'time'),
         ('measured_offset_minutes', ''), ('printed_at', 'time'), ('arrived_at', 'time'), ('target', ''),
         ('target_hash', ''), ('target_table', ''), ('limits', 'json'), ('reckoning', 'json'),
         ('recovered', 'flag'), ('diagnosis', 'json'), ('moved', 'json'), ('rules_version', ''),
         ('head_set', ''), ('ink_set', ''), ('instrument', ''), ('m_condition', ''), ('backing', ''),
         ('illuminant', ''), ('observer', ''), ('patches', ''), ('matched', ''), ('chart_hash', '')),
    ),
    ('recorded_events', ()): FrozenQuestion(
        """SELECT event.site, event.seq, event.kind, event.at, event.printer, event.substrate, event.mode,
event.facts, event.told_by, event.recorded_at, event.undoes_seq, event.source, event_1.told_by AS
undone_told_by, event_1.facts AS undone_facts, event_1.at AS undone_at FROM event LEFT OUTER JOIN event
AS event_1 ON event_1.site = event.site AND event_1.undoes_seq = event.seq WHERE event.site = :site AND
likely(event.undoes_seq IS NULL) ORDER BY event.at, event.seq""",
        {},
        (),
        (('site', ''), ('seq', ''), ('kind', ''), ('at', 'time'), ('printer', ''), ('substrate', ''), ('mode',
         ''), ('facts', 'json'), ('told_by', ''), ('recorded_at', 'time'), ('undoes_seq', ''), ('source',
         ''), ('undone_told_by', ''), ('undone_facts', 'json'), ('undone_at', 'time')),
    ),
    ('recorded_events', ('kinds',)): FrozenQuestion(
        """SELECT event.site, event.seq, event.kind, event.at, event.printer, event.substrate, event.mode,
event.facts, event.told_by, event.recorded_at, event.undoes_seq, event.source, event_1.told_by AS
undone_told_by, event_1.facts AS undone_facts, event_1.at AS undone_at FROM event LEFT OUTER JOIN event
AS event_1 ON event_1.site = event.site AND event_1.undoes_seq = event.seq WHERE event.site = :site AND
likely(event.undoes_seq IS NULL) AND event.kind IN (__[POSTCOMPILE_kinds]) ORDER BY event.at, event.seq""",
        {},
        ('kinds',),
        (('site', ''), ('seq', ''), ('kind', ''), ('at', 'time'), ('printer', ''), ('substrate', ''), ('mode',
         ''), ('facts', 'json'), ('told_by', ''), ('recorded_at', 'time'), ('undoes_seq', ''), ('source',
         ''), ('undone_told_by', ''), ('undone_facts', 'json'), ('undone_at', 'time')),
    ),
    ('recorded_events', ('printers',)): FrozenQuestion(
        """SELECT event.site, event.seq, event.kind, event.at, event.printer, event.substrate, event.mode,
event.facts, event.told_by, event.recorded_at, event.undoes_seq, event.source, event_1.told_by AS
undone_told_by, event_1.facts AS undone_facts, event_1.at AS undone_at FROM event LEFT OUTER JOIN event
AS event_1 ON event_1.site = event.site AND event_1.undoes_seq = event.seq WHERE event.site = :site AND
likely(event.undoes_seq IS NULL) AND event.printer IN (__[POSTCOMPILE_printers]) ORDER BY event.at,
event.seq""",
        {},
        ('printers',),
        (('site', ''), ('seq', ''), ('kind', ''), ('at', 'time'), ('printer', ''), ('substrate', ''), ('mode',
         ''), ('facts', 'json'), ('told_by', ''), ('recorded_at', 'time'), ('undoes_seq', ''), ('source',
         ''), ('undone_told_by', ''), ('undone_facts', 'json'), ('undone_at', 'time')),
    ),
    ('recorded_events', ('since',)): FrozenQuestion(
        """SELECT event.site, event.seq, event.kind, event.at, event.printer, event.substrate, event.mode,
event.facts, event.told_by, event.recorded_at, event.undoes_seq, event.source, event_1.told_by AS
undone_told_by, event_1.facts AS undone_facts, event_1.at AS undone_at FROM event LEFT OUTER JOIN event
AS event_1 ON event_1.site = event.site AND event_1.undoes_seq = event.seq WHERE event.site = :site AND
likely(event.undoes_seq IS NULL) AND event.at >= :since ORDER BY event.at, event.seq""",
        {},
        (),
        (('site', ''), ('seq', ''), ('kind', ''), ('at', 'time'), ('printer', ''), ('substrate', ''), ('mode',
         ''), ('facts', 'json'), ('told_by', ''), ('recorded_at', 'time'), ('undoes_seq', ''), ('source',
         ''), ('undone_told_by', ''), ('undone_facts', 'json'), ('undone_at', 'time')),
    ),
    ('target_versions', ('name',)): FrozenQuestion(
        """SELECT target_version.site, target_version.seq, target_version.name, target_version.version,
target_version.sha256, target_version.source, target_version.added_by, target_version.approved_by,
target_version.added_at, target_version.facts, target_retirement."by" AS retired_by,
target_retirement.why AS retired_why, target_retirement.at AS retired_at FROM target_version LEFT OUTER
JOIN target_retirement ON target_retirement.site = :site AND target_retirement.target_seq =
target_version.seq WHERE target_version.site = :site AND target_version.name = :name ORDER BY
target_version.name, target_version.version""",
        {},
        (),
        (('site', ''), ('seq', ''), ('name', ''), ('version', ''), ('sha256', ''), ('source', ''), ('added_by',
         ''), ('approved_by', ''), ('added_at', 'time'), ('facts', 'json'), ('retired_by', ''),
         ('retired_why', ''), ('retired_at', 'time')),
    ),
    ('unscored_places', ('keys',)): FrozenQuestion(
        """SELECT unscored_file.sha256, unscored_file.origin, unscored_file.folder_clue, unscored_file.file_name
FROM unscored_file WHERE unscored_file.site = :site AND (unscored_file.sha256 IN (__[POSTCOMPILE_keys])
OR unscored_file.sha256 IS NULL AND unscored_file.origin IN (__[POSTCOMPILE_keys])) ORDER BY
unscored_file.seq""",
        {},
        ('keys',),
        (('sha256', ''), ('origin', ''), ('folder_clue', ''), ('file_name', '')),
    ),
}
