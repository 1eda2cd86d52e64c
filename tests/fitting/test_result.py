"""What a result says, draws and promises."""

import matplotlib.pyplot as plt
import numpy as np
import pytest
from scipy import stats

import rheokit as rk

RATES = np.geomspace(0.1, 100.0, 20)
NOISE = np.random.default_rng(11).standard_normal(20)
STRESS = (30.0 + 12.0 * RATES**0.4) * (1.0 + 0.01 * NOISE)
FIT = rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS), "herschel_bulkley")


def test_stress_viscosity_residuals_and_sum_of_squares():
    assert FIT.viscosity([0.0, 2.0]) == pytest.approx([np.nan, FIT.stress([2.0])[0] / 2.0], nan_ok=True)
    assert FIT.residuals == pytest.approx(STRESS - FIT.stress(RATES))
    assert FIT.sum_of_squares == pytest.approx(float((((STRESS / FIT.stress(RATES)) - 1.0) ** 2).sum()), rel=1e-10)
    assert FIT.spread.scale == pytest.approx(np.sqrt(FIT.sum_of_squares / 17.0), rel=1e-12)
    assert FIT.covariance.shape == (3, 3)


def test_the_band_of_a_line_is_the_textbook_band():
    x = np.linspace(1.0, 9.0, 12)
    y = 3.0 + 2.0 * x + 0.3 * np.random.default_rng(4).standard_normal(12)
    fit = rk.fit_law(x, y, rk.MODELS["bingham"])
    at = np.array([0.5, 5.0, 20.0])
    spread = ((x - x.mean()) ** 2).sum()
    error = np.sqrt((fit.residuals @ fit.residuals) / 10.0 * (1.0 / 12.0 + (at - x.mean()) ** 2 / spread))
    lower, upper = fit.band(at, 0.9)
    assert upper - fit.value(at) == pytest.approx(stats.t.ppf(0.95, 10) * error, rel=1e-9)
    assert fit.value(at) - lower == pytest.approx(upper - fit.value(at), rel=1e-9)
    with pytest.raises(rk.FitError, match="does not lie between 0 and 1"):
        fit.band(at, 95.0)


def test_a_band_is_open_where_nothing_was_seen():
    # A curve without a low-rate plateau determines the stress within its range but no zero-shear viscosity.
    rates = np.geomspace(0.01, 1000.0, 30)
    curve = rk.FlowCurve(rates, 14.0 * rates**0.4 * (1.0 + 1e-4 * np.sin(7.0 * np.arange(30))))
    fit = rk.fit_flow_curve(curve, "cross")
    assert not fit.parameters["zero_shear_viscosity"].determined
    lower, upper = fit.band([1.0, 1e-60])
    assert np.isfinite([lower[0], upper[0]]).all()
    assert np.isinf(upper[1])


def test_the_table_says_everything():
    text = str(FIT)
    for part in (
        "herschel bulkley",
        "yield stress",
        "Pa·s^n",
        "17 degrees of freedom",
        "% of the fitted value",
        "scale from the residuals",
    ):
        assert part in text
    assert FIT.table()._repr_html_() == FIT._repr_html_()
    estimate = FIT.parameters["flow_index"]
    assert estimate.method.startswith("herschel bulkley law by least squares over shear rates 0.1000 to 100.0 1/s; ")
    assert estimate.degrees_of_freedom == 17.0


def test_plots_return_the_axes_and_leave_the_current_ones_alone():
    figure, (mine, current) = plt.subplots(1, 2)
    plt.sca(current)
    assert FIT.plot(mine) is mine
    assert not current.lines
    assert mine.get_xscale() == mine.get_yscale() == "log"
    assert "1/s" in mine.get_xlabel()
    assert "Pa" in mine.get_ylabel()
    assert len(mine.collections) == 1
    words = "\n".join(text.get_text() for text in mine.texts)
    assert "herschel bulkley" in words
    assert "$n$ = 0.40" in words
    assert "Pa·sⁿ" in words
    FIT.plot(mine)
    figure.canvas.draw()
    assert len({line.get_color() for line in mine.lines if line.get_gid()}) == 2
    plt.close(figure)
    new = rk.fit_law(RATES, STRESS, rk.MODELS["bingham"]).plot()
    assert new.get_xscale() == "linear"
    plt.close(new.figure)


@pytest.mark.parametrize(
    ("weighting", "label", "drawn"),
    [
        ("relative", "measured / fitted − 1 [%]", lambda fit: 100.0 * (STRESS / fit.stress(RATES) - 1.0)),
        ("absolute", "measured − fitted [Pa]", lambda fit: STRESS - fit.stress(RATES)),
        (0.1 * STRESS, "residual over its deviation", lambda fit: (STRESS - fit.stress(RATES)) / (0.1 * STRESS)),
    ],
    ids=["relative", "absolute", "given"],
)
def test_residuals_are_drawn_as_the_weighting_sees_them(weighting, label, drawn):
    fit = rk.fit_flow_curve(rk.FlowCurve(RATES, STRESS), "herschel_bulkley", weighting=weighting)
    ax = fit.plot_residuals()
    assert ax.get_ylabel() == label
    assert ax.lines[-1].get_ydata() == pytest.approx(drawn(fit), rel=1e-9)
    plt.close(ax.figure)


def test_a_label_stands_at_the_end_of_the_curve_in_place_of_the_corner():
    ax = FIT.plot(label="load 1")
    assert [text.get_text() for text in ax.texts] == ["load 1"]
    assert next(line for line in ax.lines if line.get_gid()).get_label() == "load 1"
    plt.close(ax.figure)


def test_an_open_band_does_not_stretch_the_figure():
    curve = rk.FlowCurve(RATES, 14.0 * RATES**0.4 * (1.0 + 0.01 * NOISE))
    ax = rk.fit_flow_curve(curve, "cross").plot()
    ax.figure.canvas.draw()
    low, high = ax.get_ylim()
    assert low > 0.2 * curve.shear_stress.min()
    assert high < 5.0 * curve.shear_stress.max()
    assert "not determined" in "\n".join(text.get_text() for text in ax.texts)
    plt.close(ax.figure)


@pytest.mark.parametrize(("factor", "covers"), [(1.0, True), (1.3, False)], ids=["as it is", "errors divided by 1.3"])
def test_intervals_cover_the_truth_as_often_as_they_say(factor, covers):
    # 400 curves with 3 % of noise in proportion to the stress. A true coverage of 95 % stays within the 99.9 % binomial limits for
    # both parameters and the curve; the negative control, errors divided by 1.3, falls to about 86 % and must fall out of them.
    law, truth, repeats = rk.MODELS["herschel_bulkley"], (60.0, 14.0, 0.5), 400
    exact, generator = law.value(RATES, *truth), np.random.default_rng(12)
    inside = np.zeros(3)
    for _ in range(repeats):
        fit = rk.fit_flow_curve(rk.FlowCurve(RATES, exact * (1.0 + 0.03 * generator.standard_normal(20))), law)
        times = stats.t.ppf(0.975, 17) / factor
        for index, name in enumerate(("yield_stress", "flow_index")):
            estimate = fit.parameters[name]
            inside[index] += abs(estimate.value - truth[2 * index]) <= times * estimate.standard_error
        half = (fit.band([3.0]).upper - fit.stress([3.0]))[0] / factor
        inside[2] += abs(fit.stress([3.0])[0] - law.value(np.array([3.0]), *truth)[0]) <= half
    lowest, highest = stats.binom.ppf([0.0005, 0.9995], repeats, 0.95)
    within = (inside >= lowest) & (inside <= highest)
    assert within.all() if covers else not within.any()
