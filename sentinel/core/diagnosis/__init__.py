"""Why a reading differs from its aim: causes with calibrated confidences, from the file alone."""
