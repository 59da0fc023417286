"""A pose estimator that errs as real ones do: at each joint, along a limb, when it loses an arm."""
