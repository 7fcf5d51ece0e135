"""What a printing condition will do: its recorded figures brought to series, charted and forecast (`core.drift`).

`figures` names the figures that are watched, `history` turns records into series (resets, lots of the stock), `reach`
finds how far a signed figure may go before the action limit of its group, `foretelling` puts it together. What comes
out is `core.outlook`, plain values that the light commands read too.
"""
