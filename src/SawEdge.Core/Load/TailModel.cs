using MathNet.Numerics.Distributions;
using SawEdge.Core.Statistics;

namespace SawEdge.Core.Load;

/// <summary>
/// How rarely a normal cut of this saw shows a statistic as great as one seen: by rank among the accepted cuts, with a
/// generalised Pareto tail beyond the greatest tenth (Pickands 1975; Coles, An Introduction to Statistical Modeling of Extreme
/// Values, 2001, chapter 4), and by a stated prior while there are few. Cuts that were left out are not among the accepted
/// ones, so the tail is fitted as one that is cut off there.
/// </summary>
internal sealed class TailModel
{
    /// <summary>Accepted cuts that are remembered.</summary>
    public const int Remembered = 1024;

    /// <summary>Accepted cuts at which prior and history have the same say.</summary>
    private const double PriorCuts = 40;

    /// <summary>A p-value is never less than this share of what normal scatter would give; judgement, no source.</summary>
    private const double LeastOfNormal = 0.6;

    private const int LeastForTail = 100;
    private const int LeastForRank = 20;
    private const double TailShare = 0.1;

    // Scatter that is nearly normal has a slightly bounded tail, and a heavy one now and then: judgement, no source.
    private const double ShapeMean = 0;
    private const double ShapeSd = 0.12;

    private static readonly TailPrior HeavyTail = new(1, 3);

    private readonly TailPrior _prior;
    private readonly float[] _values = new float[Remembered];
    private long _count;
    private long _fittedAt;
    private double _tailFrom = double.PositiveInfinity;
    private double _tailSurvival;
    private GeneralizedPareto _tail = new(1, 0);

    /// <summary>A model that has seen nothing.</summary>
    /// <param name="prior">What is believed beforehand.</param>
    public TailModel(TailPrior prior) => _prior = prior;

    /// <summary>Accepted cuts it stands on.</summary>
    public int History => (int)Math.Min(_count, Remembered);

    /// <summary>Share of normal cuts whose statistic is as great or greater, above 0 and up to 1.</summary>
    /// <param name="statistic">The statistic.</param>
    /// <param name="isGuess">Whether unlike cuts may be among those it is held against: then it is believed to be rare only where even a heavy tail makes it so.</param>
    public double PValue(double statistic, bool isGuess = false)
    {
        var p = Believed(statistic);
        return isGuess ? Math.Max(p, HeavyTail.Survival(statistic)) : p;
    }

    private double Believed(double statistic)
    {
        var prior = Math.Max(double.Epsilon, _prior.Survival(statistic));
        if (_count == 0)
            return prior;
        var share = 1 / (1 + Math.Pow(_count / PriorCuts, 2));
        var log = (share * Math.Log(prior)) + ((1 - share) * Math.Log(Math.Max(double.Epsilon, Observed(statistic))));

        // A saw that has been quiet for long is not believed to be quieter than its own spread by much.
        return Math.Clamp(Math.Max(Math.Exp(log), LeastOfNormal * _prior.NormalSurvival(statistic)), 1e-300, 1);
    }

    /// <summary>Takes in the statistic of an accepted cut.</summary>
    /// <param name="statistic">The statistic.</param>
    /// <param name="leftOutBelow">The p-value from which cuts are left out.</param>
    public void Learn(double statistic, double leftOutBelow)
    {
        _values[_count % Remembered] = (float)statistic;
        _count++;
        if (History >= LeastForTail && _count - _fittedAt >= Math.Max(10, History / 40))
            FitTail(leftOutBelow);
    }

    /// <summary>Writes everything down.</summary>
    public void Save(MemoryWriter to)
    {
        to.Long(_count);
        to.Long(_fittedAt);
        to.Number(_tailFrom);
        to.Number(_tailSurvival);
        to.Number(_tail.Scale);
        to.Number(_tail.Shape);
        to.Singles(_values.AsSpan(0, History));
    }

    /// <summary>Goes on from what was written down.</summary>
    public static TailModel Restore(MemoryReader from, TailPrior prior)
    {
        var model = new TailModel(prior)
        {
            _count = from.Long(),
            _fittedAt = from.Long(),
            _tailFrom = from.Number(),
            _tailSurvival = from.Number(),
            _tail = new GeneralizedPareto(from.Number(), from.Number()),
        };
        var values = from.Singles();
        if (model._count < 0 || values.Length != model.History)
            throw new FormatException("What was stored of the load score is damaged.");
        values.CopyTo(model._values, 0);
        return model;
    }

    private double Observed(double statistic)
    {
        if (statistic > _tailFrom)
            return _tailSurvival * Beyond(statistic - _tailFrom);

        // Too few for a tail of their own: beyond the greatest tenth of them the prior's tail goes on.
        if (_fittedAt == 0 && History >= LeastForRank && Upper(out var survival) is var upper && statistic > upper)
            return survival * _prior.Survival(statistic) / _prior.Survival(upper);
        var above = 1;
        for (var i = 0; i < History; i++)
        {
            if (_values[i] >= statistic)
                above++;
        }

        return above / (History + 1.0);
    }

    private double Upper(out double survival)
    {
        Span<float> sorted = stackalloc float[Remembered];
        sorted = sorted[..History];
        _values.AsSpan(0, History).CopyTo(sorted);
        sorted.Sort();
        var tail = (int)Math.Ceiling(TailShare * History);
        survival = tail / (History + 1.0);
        return sorted[^(tail + 1)];
    }

    // Where the fit has no cut to stand on any more it goes on as an exponential: a tail that ends somewhere is not believed.
    private double Beyond(double excess)
    {
        var last = Math.Min(1, 0.5 / (History * _tailSurvival));
        var reach = _tail.Quantile(last);
        if (excess <= reach)
            return _tail.Survival(excess);
        var hazard = 1 / (_tail.Scale + (_tail.Shape * reach));
        return last * Math.Exp(-hazard * (excess - reach));
    }

    private void FitTail(double leftOutBelow)
    {
        Span<float> sorted = stackalloc float[Remembered];
        sorted = sorted[..History];
        _values.AsSpan(0, History).CopyTo(sorted);
        sorted.Sort();
        var tail = (int)Math.Ceiling(TailShare * History);
        var from = sorted.Length - tail - 1;
        Span<double> excesses = stackalloc double[tail];
        for (var i = 0; i < tail; i++)
            excesses[i] = Math.Max(sorted[from + 1 + i] - sorted[from], 1e-9);
        var survival = tail / (History + 1.0);

        // Where the cut-off lies follows from the fit and the fit from it: twice is near enough.
        var fit = GeneralizedPareto.Fit(excesses, double.PositiveInfinity, ShapeMean, ShapeSd);
        var cutOff = Math.Max(fit.Quantile(Math.Min(1, leftOutBelow / survival)), excesses[^1] * 1.0001);
        _tail = GeneralizedPareto.Fit(excesses, cutOff, ShapeMean, ShapeSd);
        _tailFrom = sorted[from];
        _tailSurvival = survival;
        _fittedAt = _count;
    }
}

/// <summary>How a statistic of normal cuts is believed to be distributed before a saw has shown it.</summary>
/// <param name="Independent">How many independent values the greatest is taken from.</param>
/// <param name="Freedom">Degrees of freedom of Student's t of each.</param>
internal sealed record TailPrior(double Independent, double Freedom)
{
    /// <summary>Share of normal cuts as great or greater.</summary>
    /// <param name="statistic">The statistic: the greatest of absolute values in standard deviations.</param>
    public double Survival(double statistic) => OfGreatest(2 * StudentT.CDF(0, 1, Freedom, -Math.Abs(statistic)));

    /// <summary>The same for scatter that is normal.</summary>
    public double NormalSurvival(double statistic) => OfGreatest(2 * Normal.CDF(0, 1, -Math.Abs(statistic)));

    private double OfGreatest(double one)
    {
        // 1 - (1 - one)^n, which for small shares is n * one to within rounding.
        return one < 1e-9 ? Independent * one : 1 - Math.Pow(1 - one, Independent);
    }
}
