namespace SawEdge.Gateway.Accounts.Reports;

/// <content>How it looks: dark ink on white, for a screen and for A4 and Letter paper.</content>
internal sealed partial class ReportHtml
{
    private const string Style = """
        :root{color-scheme:light}
        *{box-sizing:border-box}
        body{margin:0 auto;max-width:64rem;padding:1.5rem;background:#fff;color:#1b2126;font:15px/1.45 system-ui,"Segoe UI",Roboto,"Liberation Sans",sans-serif;-webkit-print-color-adjust:exact;print-color-adjust:exact}
        header{border-bottom:3px solid #1f6f63;margin-bottom:1.2rem}
        h1{font-size:1.9rem;line-height:1.2;margin:.1rem 0}
        h2{font-size:1.2rem;margin:0 0 .5rem;padding-top:.4rem}
        h3{font-size:.95rem;margin:.6rem 0 .1rem}
        .site,.when{margin:0;color:#4a5560}
        .when{margin-bottom:.7rem}
        section{margin:0 0 1.6rem}
        .oee{margin:0 0 .4rem;font-size:1.1rem}
        .oee b{font-size:2.6rem;line-height:1;font-variant-numeric:tabular-nums}
        table{border-collapse:collapse;width:100%;margin:.4rem 0 .8rem}
        caption{text-align:left;font-weight:600;padding:.2rem 0;color:#4a5560}
        th,td{text-align:left;vertical-align:top;padding:.22rem .5rem .22rem 0;border-bottom:1px solid #dde2e6;font-weight:400}
        thead th{border-bottom:2px solid #8a959e;font-weight:600}
        tbody th,tfoot th{font-weight:600}
        tfoot th,tfoot td{border-top:2px solid #8a959e;border-bottom:0;font-weight:700}
        .n{text-align:right;font-variant-numeric:tabular-nums}
        td.n+td:not(.n){padding-left:1rem}
        th.after{padding-left:1rem}
        .where th{font-weight:400}
        tfoot .n small,small{color:#4a5560;font-weight:400}
        .group th,.group td{background:#f3f6f7}
        .where{max-width:30rem}
        .bar{width:100%;height:18px;display:block;border:1px solid #3b4045}
        .key{vertical-align:-1px}
        .strip{width:100%;height:auto;display:block;margin:.2rem 0 .4rem}
        .strip text{font:11px system-ui,"Liberation Sans",sans-serif;fill:#4a5560}
        .clock{text-anchor:start}
        .strip .note{text-anchor:end;paint-order:stroke;stroke:#fff;stroke-width:4px;font-weight:600;fill:#1b2126}
        .tick{stroke:#dde2e6;stroke-width:1}
        .axis{stroke:#3b4045;stroke-width:1}
        .standard{stroke:#3b4045;stroke-width:1;stroke-dasharray:5 4;fill:none}
        .frame{fill:none;stroke:#3b4045;stroke-width:1}
        .cut{stroke-width:.6}
        .cut.good{fill:#1f6f63;stroke:#1f6f63}
        .cut.slow{fill:url(#b1);stroke:#6b4303}
        .cut.scrap{fill:url(#b7);stroke:#7c1d12}
        .cut.lost{fill:#fff;stroke:#b3392b;stroke-dasharray:2 1.5}
        .cut.free{fill:#fff;stroke:#4a5560}
        footer{border-top:1px solid #8a959e;color:#4a5560;font-size:.85rem}
        @page{margin:14mm}
        @media print{body{padding:0;font-size:10.5pt;max-width:none}section.saw{break-inside:avoid}tr{break-inside:avoid}h2,h3,caption{break-after:avoid}}
        @media (max-width:40rem){body{padding:.8rem}table{display:block;overflow-x:auto}}
        """;
}
