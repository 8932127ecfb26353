//! Graph of bare operations on numbers, templates, point evaluation, sensitivities, one maths module.
