using SawEdge.Core.Load;

namespace SawEdge.Core.Blades;

/// <summary>
/// The blades of one saw: which one is on it, what each has cut and how it wears. Who spoke last about the blade is right:
/// the controller when its blade changes, a person by an entry, or a proposal.
/// </summary>
internal sealed class BladeShelf
{
    /// <summary>Blades of one saw that are remembered.</summary>
    public const int MostBlades = 32;

    // Fresh blades differ from each other by about this much in ln(specific energy); judgement, no source.
    private const double FreshSd = 0.06;
    private const int MostReferences = 8;

    private readonly List<Entry> _entries = [];
    private readonly List<double> _references = [];
    private readonly List<(string Blade, long AtTicks)> _proposals = [];
    private string _controllerBlade = "";
    private long _controllerSinceTicks;

    /// <summary>An empty shelf.</summary>
    /// <param name="configured">Identity of the blade where neither the controller nor a person says; may be empty.</param>
    public BladeShelf(string configured) => Configured = configured;

    /// <summary>Identity of the blade where neither the controller nor a person says; may be empty.</summary>
    public string Configured { get; set; }

    /// <summary>The blades, the latest last.</summary>
    public IReadOnlyList<BladeAccount> Accounts => [.. _entries.Select(e => e.Account with { Wear = e.Tracker.Points })];

    /// <summary>Level expected of a fresh blade and its standard deviation; null where none was followed from its beginning.</summary>
    public (double Level, double Sd)? Fresh
    {
        get
        {
            if (_references.Count == 0)
                return null;
            return (_references.Average(), FreshSd * Math.Sqrt(1 + (1.0 / _references.Count)));
        }
    }

    /// <summary>The blade on the saw; null before the first cut.</summary>
    public BladeAccount? Current => _entries.Count > 0 ? _entries[^1].Account : null;

    /// <summary>Which blade a cut was made with.</summary>
    /// <param name="controllerBlade">What the controller says, or empty.</param>
    /// <param name="startedAt">Start of the cut.</param>
    /// <param name="book">What people said.</param>
    public (string Blade, BladeOrigin Origin) BladeOf(string controllerBlade, DateTimeOffset startedAt, BladeBook book)
    {
        if (controllerBlade.Length > 0 && controllerBlade != _controllerBlade)
            (_controllerBlade, _controllerSinceTicks) = (controllerBlade, _entries.Count == 0 ? 0 : startedAt.UtcTicks);
        var spoken = (Blade: Configured, Origin: Configured.Length > 0 ? BladeOrigin.Configured : BladeOrigin.AtStart, At: long.MinValue);
        if (controllerBlade.Length > 0)
            spoken = (controllerBlade, BladeOrigin.Controller, _controllerSinceTicks);
        foreach (var (blade, at) in _proposals)
        {
            if (at <= startedAt.UtcTicks && at > spoken.At)
                spoken = (blade, BladeOrigin.Proposed, at);
        }

        if (book.ChangeAt(startedAt) is { } entry && entry.At.UtcTicks >= spoken.At)
            spoken = (entry.Blade, BladeOrigin.Operator, entry.At.UtcTicks);
        return (spoken.Blade, spoken.Origin);
    }

    /// <summary>Takes note that from a moment on another blade must be on the saw.</summary>
    public void Propose(string blade, DateTimeOffset at) => _proposals.Add((blade, at.UtcTicks));

    /// <summary>Puts a blade on the saw.</summary>
    /// <param name="blade">Its identity, may be empty.</param>
    /// <param name="origin">How it is known.</param>
    /// <param name="at">Start of the first cut with it.</param>
    /// <returns>Whether it is another one than before.</returns>
    public bool Mount(string blade, BladeOrigin origin, DateTimeOffset at)
    {
        if (Current is { } current && current.Blade == blade)
            return false;
        var index = _entries.FindIndex(e => e.Account.Blade == blade);
        var entry = index >= 0 ? _entries[index] : new Entry
        {
            Account = new BladeAccount
            {
                Blade = blade,
                Origin = origin,
                FirstCutAt = at,
                AreaCm2 = 0,
                SeenNew = _entries.Count > 0 || origin is BladeOrigin.Operator,
            },
            Tracker = new WearTracker(),
        };
        if (index >= 0)
            _entries.RemoveAt(index);
        else if (_entries.Count == MostBlades)
            _entries.RemoveAt(0);
        _entries.Add(entry);
        return true;
    }

    /// <summary>Level expected of the blade that was just put on, and its standard deviation.</summary>
    /// <param name="levelBefore">Level of the blade before it.</param>
    public (double Level, double Sd) ExpectedLevel(double levelBefore)
    {
        // A blade that was on this saw before goes on where it was.
        if (_entries[^1].Tracker.Points is [.., var last] && !double.IsNaN(last.Residual))
            return (last.Residual, FreshSd);

        // A blade is changed when it is worn, by how much is not known; judgement, no source.
        return Fresh ?? (levelBefore - 0.12, 0.15);
    }

    /// <summary>Area that the blade had cut before a cut, cm2: of one that came new while the saw was watched; else null.</summary>
    public double? AreaSinceNewCm2 => _entries.Count == 0 || Current is not { SeenNew: true } blade ? null : blade.AreaCm2;

    /// <summary>Takes in a cut.</summary>
    /// <param name="areaCm2">Area cut, cm2; null where it is not known, which closes the account of the blade's area for good.</param>
    /// <param name="residual">ln(specific energy / model) freed of the kind of cut, or NaN.</param>
    /// <param name="dullRise">Rise at which a blade is dull.</param>
    /// <param name="endedAt">End of the cut.</param>
    public void Add(double? areaCm2, double residual, double dullRise, DateTimeOffset endedAt)
    {
        var entry = _entries[^1];
        var account = entry.Account;
        account = account with { AreaCm2 = account.AreaCm2 + areaCm2, Cuts = account.Cuts + 1, LastCutAt = endedAt };
        if (account.AreaCm2 is { } total)
        {
            entry.Tracker.Add(residual, total / 10_000);
            if (account is { SeenNew: true, Reference: null } && entry.Tracker.Beginning() is { } beginning)
            {
                account = account with { Reference = beginning };
                _references.Add(beginning);
                if (_references.Count > MostReferences)
                    _references.RemoveAt(0);
            }

            // A blade whose beginning was not seen is held against the saw's others.
            if ((account.Reference ?? Fresh?.Level) is { } reference)
                account = account with { Forecast = entry.Tracker.Forecast(reference, dullRise, areaCm2 / 10_000 ?? double.NaN) };
        }
        else
        {
            account = account with { Forecast = null };
        }

        entry.Account = account;
    }

    /// <summary>Writes everything down.</summary>
    public void Save(MemoryWriter to)
    {
        to.Text(_controllerBlade);
        to.Long(_controllerSinceTicks);
        to.Numbers([.. _references]);
        to.Count(_proposals.Count);
        foreach (var (blade, at) in _proposals)
        {
            to.Text(blade);
            to.Long(at);
        }

        to.Count(_entries.Count);
        foreach (var entry in _entries)
            entry.Tracker.Save(to);
    }

    /// <summary>Goes on from what was written down.</summary>
    /// <param name="accounts">The accounts, without their wear.</param>
    /// <param name="from">The rest.</param>
    public void Restore(IReadOnlyList<BladeAccount> accounts, MemoryReader from)
    {
        _controllerBlade = from.Text();
        _controllerSinceTicks = from.Long();
        _references.Clear();
        _references.AddRange(from.Numbers());
        _proposals.Clear();
        for (var i = from.Count(); i > 0; i--)
            _proposals.Add((from.Text(), from.Long()));
        if (from.Count(MostBlades) != accounts.Count)
            throw new FormatException("What was stored of the blades is damaged.");
        _entries.Clear();
        foreach (var account in accounts)
            _entries.Add(new Entry { Account = account, Tracker = WearTracker.Restore(from) });
    }

    private sealed class Entry
    {
        public required BladeAccount Account { get; set; }

        public required WearTracker Tracker { get; init; }
    }
}
