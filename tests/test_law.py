"""Law: a declaration that disagrees with its own functions does not load."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest

from rheokit.base.errors import DeclarationError
from rheokit.law import Law, Parameter

A, B, C = Parameter("a", symbol="a", unit="Pa", lower=0.0, meaning="height"), Parameter("b"), Parameter("c")


def _value(x, a, b, c):
    return a + b * x + c**3 * x**2


def _jacobian(x, a, b, c):
    return np.column_stack([np.ones_like(x), x, 3 * c**2 * x**2])


def _basis(x, c):
    return np.column_stack([np.ones_like(x), x])


def _law(**changes):
    return Law(**({"name": "cubic", "parameters": (A, B, C), "value": _value, "jacobian": _jacobian} | changes))


def test_a_law_knows_its_names():
    law = _law(parameters=[A, B, C])
    assert law.names == ("a", "b", "c")
    assert law.nonlinear == ("a", "b", "c")
    assert law.parameter("a") is A
    assert law.parameters == (A, B, C)
    with pytest.raises(DeclarationError, match="law 'cubic' has no parameter 'd'; it has a, b, c"):
        law.parameter("d")


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"parameters": ()}, "law 'cubic' has no parameters"),
        ({"parameters": (A, A, C)}, "law 'cubic' names a parameter twice"),
        ({"parameters": (B, A, C)}, "value takes a, b, c; the parameters are b, a, c"),
        ({"parameters": (A, B)}, "value takes a, b, c; the parameters are a, b"),
        ({"value": lambda x: x}, "value takes nothing; the parameters are a, b, c"),
        ({"value": lambda: 0.0}, "value takes nothing"),
        ({"jacobian": lambda x, a, b, d: x}, "jacobian takes a, b, d; the parameters are a, b, c"),
        ({"value": 3}, "value takes no arguments that can be read"),
        ({"linear": ("d",), "basis": _basis}, "the linear parameter 'd' is not a parameter"),
        ({"linear": ("a", "a"), "basis": _basis}, "names a linear parameter twice"),
        ({"linear": ("a", "b")}, "needs both linear parameters and a basis, or neither"),
        ({"basis": _basis}, "needs both linear parameters and a basis, or neither"),
        ({"linear": ("a",), "basis": _basis}, "basis takes c; the non-linear parameters are b, c"),
        ({"linear": ("a", "b"), "basis": lambda x: x}, "basis takes nothing; the non-linear parameters are c"),
    ],
)
def test_a_declaration_that_disagrees_is_refused(changes, message):
    with pytest.raises(DeclarationError, match=message):
        _law(**changes)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Parameter("flow index"), "parameter 'flow index' is not a name that a function argument can have"),
        (lambda: Parameter(""), "parameter '' is not a name"),
        (lambda: Parameter("lambda"), "parameter 'lambda' is not a name"),
        (lambda: Parameter("n\u202e"), "is not a name"),
        (lambda: Parameter("a", lower=1.0, upper=1.0), "parameter 'a': the lower bound 1.0 is not below the upper 1.0"),
        (lambda: Parameter("a", lower=2.0, upper=1.0), "the lower bound 2.0 is not below the upper 1.0"),
        (lambda: Parameter("a", lower=math.nan), "the lower bound nan is not below"),
    ],
)
def test_a_parameter_that_cannot_be_is_refused(make, message):
    with pytest.raises(DeclarationError, match=message):
        make()


def test_linear_parameters_with_their_basis_make_the_value():
    law = _law(linear=["a", "b"], basis=_basis)
    assert law.linear == ("a", "b")
    assert law.nonlinear == ("c",)
    x = np.array([-1.0, 0.0, 2.0])
    # With c = 0 the rest vanishes; whole numbers, exact.
    assert (law.basis(x, 0.0) @ np.array([2.0, 3.0])).tolist() == law.value(x, 2.0, 3.0, 0.0).tolist() == [-1.0, 2.0, 8.0]


def test_functions_of_any_arguments_cannot_disagree():
    def value(x, *values):
        return _value(x, *values)

    def jacobian(*everything):
        return _jacobian(*everything)

    law = _law(value=value, jacobian=jacobian)
    assert law.value(np.array([1.0]), 1.0, 2.0, 3.0).tolist() == [30.0]
    assert law.jacobian(np.array([1.0]), 1.0, 2.0, 3.0).tolist() == [[1.0, 1.0, 27.0]]


def test_the_complex_step_is_exact_on_a_polynomial():
    x = np.array([-2.0, 0.0, 0.5, 3.0])
    law = _law()
    # 3c² = 12 and every x² are exact in binary; the step's own error is of order 1e-400.
    assert law.complex_step_jacobian(x, 1.0, -1.0, 2.0).tolist() == [[1, -2, 48], [1, 0, 0], [1, 0.5, 3], [1, 3, 108]]
    assert law.jacobian(x, 1.0, -1.0, 2.0).tolist() == law.complex_step_jacobian(x, 1.0, -1.0, 2.0).tolist()


def test_a_wrong_derivative_is_seen():
    wrong = _law(jacobian=lambda x, a, b, c: np.column_stack([np.ones_like(x), x, 3 * c * x**2]))
    x = np.array([1.0, 2.0])
    assert not np.allclose(wrong.jacobian(x, 1.0, 1.0, 2.0), wrong.complex_step_jacobian(x, 1.0, 1.0, 2.0))


def test_the_table_lists_parameters_formula_and_source():
    law = _law(formula=r"y = a + b x + c^3 x^2", source="an example")
    assert law.table().rows[:2] == (("a", "a", "Pa", "0 to ∞", "height"), ("b", "", "", "−∞ to ∞", ""))
    assert law.table().notes == (r"y = a + b x + c^3 x^2", "an example")
    assert str(law).startswith("cubic\nparameter")
    assert "<caption>cubic</caption>" in law._repr_html_()


def test_a_law_of_module_functions_travels_between_processes():
    back = pickle.loads(pickle.dumps(_law()))
    assert back == _law()
