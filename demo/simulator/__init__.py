"""A spectral simulator of inkjet prints: papers, inks, presses, sheets, instruments, and what goes wrong with them.

Everything comes from seeds. A labelled check is drawn from a world (see `tests.simulation.diagnosis.worlds`):

    from demo.simulator.checks import draw_check
    from tests.simulation.diagnosis.worlds import FITTING

    check = draw_check(FITTING, 7, ["solid off"], kind="full", values="spectra")
    check.labels        # (Label(cause="solid-off-aim", ink="M", sign=-1),); empty for ["healthy"], two for two cases
    check.aim           # spectra (patches, bands), 380 to 730 nm by 10, read from a sheet printed for itself
    check.reading       # the same of the sheet under check, in the order of check.chart.device (patches, inks)
    check.file, check.target, check.rivals     # CGATS texts; rivals by the name of the paper
    check.printed_again(1, device)             # another sheet of the same press, here with other ink amounts

`kind` is `full` (about 900 to 1,600 patches) or `short` (60), `values` `spectra` or `Lab`; `drawing.CASES` names the
cases. Numbers 0 to `world.rooms` - 1 come from as many rooms, which differ in inks (4, 6, 8), papers and charts, and
then the rooms come round again.

The model: dots of every ink cover paper and one another at random (Demichel), spectra of paper, solids and overprints
are weighted by these areas (Neugebauer) with Yule and Nielsen's factor n for light that wanders in the paper; solids
filter the paper by Beer and Lambert's law, or scatter with it by Kubelka and Munk's. Sources: `neugebauer`, `solids`.

In the order of the light: `spectra`, `papers`, `inks`, `neugebauer`, `solids`, `press`, `charts`, `sheets` (what two
prints of the same differ in); then `faults`, `print_faults`, `reading_faults`, `sizes` (how large); `files` (CGATS);
`rooms`, `drawing`, `checks`.
"""
